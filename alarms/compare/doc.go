// Package compare tells what two sessions of one craft differ by: before a
// change of settings or parts, and after it.
//
// In come the samples of each session with their engine time, and the events of
// the alarms ([Collector], which gives a [Run]). Out comes a [Result]: better,
// worse, cannot tell, or better in some and worse in others, with every figure
// that it rests on. It knows nothing of files or pages and reads no clock; the
// same two sessions give the same result, and in the other order its mirror
// image. It draws no random numbers.
//
// # What is compared
//
// Sessions are laid beside each other by what happened, not by the clock. Of
// each only those stretches count in which the craft is armed and the sticks
// have stood still for a while (gate.go): armed idle, and holds of a throttle.
// Ramps and stick movements are left out, and with them what the person
// demanded. Steady stretches are cut into blocks of half a second (block.go),
// each with a value of every measure (measure.go). Blocks of one throttle make
// a stage (stage.go). Stages of the two sessions that are each other's nearest
// and at most 0.03 of throttle apart are compared, armed idle with armed idle
// alone. What has no partner is listed and takes no part.
//
// Where the throttles of two stages differ a little, so much of a difference as
// that explains is granted: every measure has the greatest power of the throttle
// that it goes by, and the interval is widened by that power of their ratio.
// Imbalance and warming change with the time that the throttle has stood: only
// the stretch that both have is compared.
//
// # How sure
//
// Root mean squares, current, volts and efficiency are compared by the ratio, as
// its logarithm; imbalance and warming by the difference. Within each stage the
// mean of the one session is taken from that of the other; over all stages these
// differences are averaged, each weighted by its information n m/(n+m) of n and m
// blocks. The variance of such a mean has four parts (welch.go, rows.go):
//
//   - the spread of blocks about a straight line through their stage, by
//     Welch's method with Satterthwaite's degrees of freedom, the blocks taken as
//     batch means whose neighbours know of each other (their correlation is
//     estimated, its bias put right, and never reckoned under 0.3);
//   - the line itself, where there is one: an oscillation that grows through a
//     stage is one draw, however many blocks it has;
//   - the spread from run to run, of both runs. Two sessions of one craft differ
//     by more than their seconds show. The figures come from the simulator
//     (TestSpreadFromRunToRun): 30 runs of each of seven scenarios, with packs
//     charged differently (0.1 V a cell), 20 hPa and 8 K of weather and a fifth
//     of the wind between them. What was beyond the first two parts in the worst
//     of their stages was, of the logarithm, 0.03 for oscillation of all axes
//     together, 0.06 in roll and pitch, 0.16 in yaw at armed idle; 0.09 for
//     shaking, 0.16 in yaw; 0.04 for vibration; 0.003 for efficiency, 0.017 for
//     current, 0.006 for volts; 0.014 for imbalance and 0.045 degC/s for warming.
//     measure.go has these figures or higher ones. Nobody has measured them on a
//     real craft here: they are marked as the simulator's, and whoever has three
//     sessions of the same craft knows better;
//   - what a difference in throttle may explain, not as a variance but added to
//     the interval whole.
//
// A difference counts when it is greater than the smallest one that matters, by
// more than chance: the hypothesis that is tested is not that nothing changed,
// but that nothing changed that matters. A change of 5 % that is as sure as can
// be is no verdict, nor is twice next to nothing: a ratio must come with a
// change of the value itself besides.
//
// Many measures are looked at, and one of them is always odd. Holm's procedure
// holds the chance of any wrong verdict in a comparison to 3 % for the measures
// over all stages, and to 2 % for stages by themselves. The interval beside each
// row is that of the level at which the procedure decided it, so that the two
// never contradict each other.
//
// What was held for under five seconds in either session is told with its
// figures, and has no verdict, whatever the measure: a verdict made of those
// measures alone that settle soon would be silent about what rocks.
//
// A session whose worst alarm is of a higher priority than the other's, medium or
// high, is never told as better as a whole, nor the other as worse: alarms heed
// ramps and sticks, which are not compared. The verdict is then mixed, and says
// first what rang.
//
// Current and volts have no better and no worse: they are told, and are no part
// of the verdict. A fuller pack is no better craft.
//
// # Sources
//
// Welch, Biometrika 34 (1947) 28; Satterthwaite, Biometrics Bulletin 2 (1946)
// 110; Holm, Scandinavian Journal of Statistics 6 (1979) 65; Bayley &
// Hammersley, Supplement to the Journal of the Royal Statistical Society 8
// (1946) 184; Marriott & Pope, Biometrika 41 (1954) 390; batch means in Law,
// Simulation Modeling and Analysis, chapter 9; testing against the smallest
// effect that matters in Murphy & Myors, Journal of Applied Psychology 84 (1999)
// 234 (all from memory; what is computed by them is checked in the tests against
// an independent library and against drawn data with a known answer).
package compare
