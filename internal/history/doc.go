// Package history keeps what was measured, how it was judged, who made which crimp with which tool, and what was measured
// with other instruments; and it runs the queue of a scan. All SQL of the program is here.
//
// # Where it is kept
//
// A history is a SQLite file (write-ahead log, synchronous NORMAL, foreign keys on, transactions that take the write lock
// when they begin, half a minute of patience with other writers). Open lays its tables out, or brings them up to date, by
// the migrations in schema/sqlite (goose) and by those of the queue (River); a file of a newer layout, of another program,
// damaged or no database at all is refused in words. While it is open two files lie beside it (-wal, -shm); when the last
// process closes it they are gone, and the one file is all. A process may be killed at any moment: what was committed is
// there. Another database comes by a folder beside schema/sqlite and a driver in open.go.
//
// # The tables
//
//	pictures       a picture is its bytes: SHA-256, size                              \
//	measurements   what one version of the program found in it, asked in one way:      |  written once; triggers refuse
//	               the record's JSON as first written, no verdict; marks, gzipped      |  UPDATE and DELETE: a new
//	tolerances     the text of every tolerances file that judged, by its hash          |  measurement is a new row
//	verdicts       a measurement held against a tolerances file                        |
//	elsewhere      values of other instruments: crimp, its day and place, value, ...   |
//	withdrawals    values of elsewhere that no longer count: who says so, and why     /
//	looks          what a picture looks like, to know it when it is saved anew; written once
//	alike          which picture is a copy of which (FindCopies)
//	scans          one call of scan: source, program, options, evidence's folder       \
//	scan_pictures  its pictures in order: file, label, what is asked, what came of it   |  book-keeping, changes
//	runs           which process works on which scan                                    |  while a scan runs
//	river_*        the queue; nothing in it is needed once a scan has ended            /
//
// Columns are explained in schema/sqlite. A measurement is found again by SHA-256, program and request
// (Key); so nothing is measured twice, and another version or another question gives another row. scan_pictures.crimp_id
// says which crimp a picture shows, by the same rule as site.Group; all lists go by it. Texts are bytes: names of files
// come back as they were, whatever their encoding.
//
// A crimp that no picture ever showed and that has values of elsewhere is one of the scans of its like (Samples). Pictures of one
// look that were handed in for several crimps, in one scan or in several, are doubted (Copies).
//
// A value of elsewhere counts for the crimps of its string, trainee and crimp, of several days for that of its day
// (site.Crimp.SetAside), unless it was withdrawn; Judge judges the rest by the tolerances that judged the pictures.
//
// Crimps of one name that were made on different days are different ones. Without a trainee the later one replaces the
// earlier one (site.Crimp.ReplacedBy), in List as in Missing: that one is told and no longer missed. Crimps of one name that
// were scanned from different sources are different ones too, but where both had a picture of the same bytes (kinship).
//
// # A scan
//
// Begin notes its pictures or takes an unfinished scan of the same source, program, options and folder up again: what was
// measured is kept, failures are tried again. Where settled pictures were taken away, that scan is ended and a new one begins. Settle keeps what came of a picture in one transaction. Pending tells what
// is left, Entries what a scan is grouped by (light), Picture gives one picture whole. Finish ends it.
//
// # The queue
//
// Queue is River (riverqueue.com) on the same file: order, attempts and pausing are its business. It polls every 5 ms and
// costs about 2 ms a job. Each run of a scan has a River queue of its own name (scan-17-run-23). The row of the run names
// host, process and when the process began, so that the next start knows whether it still runs: then the same scan is
// refused (RunningError); else its jobs are deleted, also those that count as running, which River would keep. Their
// pictures are pending and are worked in the new run's queue, at once and once each. A job whose attempts have run out
// settles its picture as failed, should Work not have done so. There is no timeout: by it River would take jobs for stuck,
// those of other scans too. Every two seconds the run shows that it is alive, jobs that a clock which was set back has put
// into the future are made due, and the file is looked for. River logs nothing; what ends all (disk full, read-only, the
// file deleted or replaced) comes out of Faults.
//
// # To change
//
//   - what is kept: a new migration in schema/sqlite, then settle.go or scan.go; never change a migration that was released
//   - what the history says to a person whose disk, file or folder is not right: fault.go, checkLocation in open.go
//   - where crimps stand (history list): standing.go, and which are different ones for their place: place.go; what is doubted of them: doubt.go and doubt.go of package site; all
//     that is known of one (history show): story.go; of a trainee or a tool over time: past.go; what was taken away: missing.go; what other limits said: stricter.go; for other programs: export.go
//   - the queue: queue.go; who is alive and what is left over: run.go, process_linux.go
package history
