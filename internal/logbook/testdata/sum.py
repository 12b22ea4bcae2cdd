# The sums of the two entries of TestSums, computed from the description at entrySum.
import hashlib, struct

def number(n): return struct.pack("<q", n)
def text(s):
    b = s.encode()
    return number(len(b)) + b

def entry(before, seq, behind, replaces, undoes, texts, files):
    b = b"logbook entry\0" + bytes.fromhex(before)
    for n in (seq, behind, replaces, undoes, len(files)):
        b += number(n)
    for t in texts:
        b += text(t)
    for size, *names in files:
        b += number(size)
        for t in names:
            b += text(t)
    return hashlib.sha256(b).hexdigest()

at = "2027-04-12T08:30:00.123456789+02:00"
one = entry("00" * 32, 1, 0, 0, 0,
            [at, "Bänke", "break", "A7K2P", '{"force":1234.50}', "Ines", "phone", "2027-04-12T06:29:57Z", "k1", "break/A7K2P"],
            [(5, "photo", "faces.jpg", "image/jpeg", hashlib.sha256(b"\xff\xd8\1\2\3").hexdigest())])
two = entry(one, 2, 3600 * 10**9, 0, 1,
            ["2027-04-12T07:30:00.123456789+02:00", "Bänke", "undo", "", "{}", "", "", "", "", ""], [])
print(one)
print(two)
