// Package account tells what happened in one session: what a report shows.
//
// In come the samples of a session with their engine time, and the events of
// the alarms ([Collector]). Out comes an [Account]: the verdict and what to do
// first, the run on one time line, each axis against its limit with its
// spectrum, motors, balance, temperatures, pack, pressure altitude, link,
// settings, and what was not watched. It knows nothing of files, pages or
// pictures, reads no clock, and keeps memory bounded however long the session
// is: curves are kept as the least and greatest value of each stretch of time.
package account
