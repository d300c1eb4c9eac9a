package photo

import "crimprule/vision/record"

// Side measures a part in the side view and fills the record.
func Side(subject Subject, rec *record.Record) {
	rec.Refuse("the side view cannot be measured yet")
}
