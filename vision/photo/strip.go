package photo

import "crimprule/vision/record"

// Strip measures a part in the strip view and fills the record.
func Strip(subject Subject, rec *record.Record) {
	rec.Refuse("the strip view cannot be measured yet")
}
