// Package publish puts an answer into words, tables, a report and a file for
// programs. It computes nothing that is not in the answer.
package publish
