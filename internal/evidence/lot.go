package evidence

// lotVerdict is what the sampling plan says of the lot.
type lotVerdict struct{ Text string }

func (b *book) judgeLot() (*lotVerdict, error) { return nil, nil }
