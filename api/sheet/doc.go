// Package sheet takes tables in and gives tables out, as CSV and as workbooks
// (XLSX): the trucks, the line-off days that people state, the visits with their
// bookings, and the history of what was projected and what came of it.
//
// Read never changes a plant. It gives a Preview: for each row of the file
// whether it is added, changed, unchanged or refused, and why. Only a preview
// without a refused row gives a new plant. Rows of the plant that a file leaves
// out stay as they are, and so do columns that it leaves out; an empty cell
// empties its field. What Write has written, Read finds unchanged.
//
// Files come from strangers. Bytes, rows, columns and cells are limited before
// anything is kept (see the constants), formulas are never worked out, and a
// workbook is read as a stream: package excelize writes workbooks here, and reads
// none, since it makes room for every cell between those that a file names.
//
// Deliberately absent: files on disk, the network, a clock, and any change of a
// plan. Rows are never deleted.
package sheet
