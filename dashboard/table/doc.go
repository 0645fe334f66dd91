// Package table turns a session into tables for other programs.
//
// In go samples with their engine time, events and marks, in the order of the
// session. Out come files: one table a tag of the protocol, one of what rang,
// one of what the person noted, and one row about the recording itself. The
// package knows nothing of recordings or engines; who plays one hands it what
// comes of it.
//
// The columns of a tag's table are t and decode.Columns of the tag, always the
// eight of a motor field, so that tables of all sessions have the same
// columns. Every good line of a known tag is one row, in the order in which the
// lines came. The types are the same in both formats:
//
//	t               engine seconds, to the microsecond: double
//	decimal fields  the float64 nearest to the line's decimal: double
//	whole fields    64-bit integer
//	flags           boolean: 1 or 0 in CSV
//	words, texts    UTF-8
//
// What was not measured is empty in CSV and null in Parquet. CSV is RFC 4180
// but for the line end, which is LF; numbers are the shortest decimal that
// gives the same float64, without exponent. Units stand in a file beside it,
// csv-metadata.json, as "Metadata Vocabulary for Tabular Data" (W3C
// Recommendation of 17 December 2015) has it, and in the key-value metadata of
// a Parquet file: unit.rate_roll = deg/s.
//
// A single session lies in a folder of its own:
//
//	OUT/axes.csv, OUT/alarms.csv, ...
//
// Many lie side by side, as SQL engines read a partitioned data set:
//
//	OUT/axes/session=20261125T074111Z/part-0.parquet
//
// Names that begin with an underscore are for this package, and such engines
// pass over them. No file under its final name is ever half written: each is
// written beside it and moved into place when all of them are whole.
package table
