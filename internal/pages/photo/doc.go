// Package photo takes photos of broken faces as phones send them: it finds out
// what the bytes are, refuses what cannot be shown or would fill the memory, and
// returns a copy that holds the picture and nothing about the person who took it.
//
// # What is kept
//
// The picture itself is kept as it came, never compressed again: the kept file
// decodes to the very same pixels. Kept beside it are the colour profile, the
// resolution and the way up, for without them the picture looks wrong. All else
// goes: place, time, camera, comments, embedded previews, and whatever lies
// behind the end of the picture (second pictures, films).
//
// A photo that a phone stored on its side keeps one tag that says so, the
// orientation of EXIF, in a block that holds nothing else. Browsers follow it in
// JPEG and PNG. In a WebP they do not, so there it is dropped and the picture is
// as it is stored. [Photo.Width] and [Photo.Height] are those of the picture as
// browsers show it, and the thumbnail is turned that way already.
//
// # What is refused
//
// Everything but JPEG, PNG and WebP, with a [Refused] that says what the file is
// and what to do. The size in pixels is read from the file's head and compared
// with the limit before anything is decoded, and one picture at a time is decoded
// in a process, however many arrive.
package photo
