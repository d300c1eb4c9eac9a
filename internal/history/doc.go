// Package history keeps what was measured: pictures, records, verdicts, who made which crimp with which tool, what was
// measured elsewhere, and the scans with their queue.
package history
