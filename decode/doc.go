// Package decode turns lines of the bench line protocol into samples, and
// samples into lines. Lines come in without their line end, samples go out. It
// knows nothing of ports, files, clocks, windows or alarms.
//
// # The format
//
// A line is a body, a star, and the CRC-32C of the body in eight upper-case
// hexadecimal digits. The body is a tag, a sequence number, the bridge's clock
// in microseconds, and the fields of the tag, all parted by commas:
//
//	out,3,1040,0.1310,,0.1290,0.1320*B18A13EF
//
// An empty field was not measured; nor were those that a short line leaves
// out. The line above becomes
//
//	Sample{Tag: Out, Seq: 3, Time: 1040, Num: {0.131, 0, 0.129, 0.132}, Has: 0b1101}
//
// A text and a word lie beside the numbers:
//
//	craft,1,12,Marsh Heron,quad-x,4,14,3,178,655,4*0F9FABD2
//
// becomes
//
//	Sample{Tag: Craft, Seq: 1, Time: 12, Text: "Marsh Heron", Word: "quad-x",
//		Num: {4, 14, 3, 178, 655, 4}, Has: 0b111111}
//
// Of a later version's line, tag, seq and time are known and nothing else:
//
//	turret,3,80,1,2,3*7058DDB6
//
// becomes
//
//	Sample{Tag: Unknown, Seq: 3, Time: 80}
//
// A line that is wrong in any way gives no value at all, but a [LineError] with
// a [Cause]; these five lack their star, carry a wrong checksum, write a number
// as the grammar forbids, go beyond a range, and bring a fraction of a motor:
//
//	load,1,20,3.5
//	load,1,20,3.5*00000000
//	load,1,20,+3.5*41CBF903
//	load,1,20,2000.5*27EB031D
//	craft,1,12,Marsh Heron,quad-x,4.5*7FCDF512
//
// An empty line and a line that begins with "#" are neither good nor bad:
// [ErrBlank], [ErrHost].
//
// A hello of another protocol version is rejected under a cause of its own,
// [OtherVersion], so that a person can be told. Its other lines are still read:
// each stands for itself, by its checksum and its ranges.
//
// PROTOCOL.md explains the format to those who write a bridge. Its tables are
// made from the field table in format.go, which also drives [Decoder], [Append]
// and [Columns]. After a change of the table run
//
//	go test ./decode -run Protocol -update
//
// # Order of lines
//
// [Stream] follows sequence numbers and clock over the good lines: how far
// apart two lines lie, how many are missing between them, and whether the
// bridge began anew.
package decode
