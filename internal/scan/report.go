package scan

import (
	"context"
	"errors"
)

// reporter hands on pictures in the order of the input.
type reporter struct {
	*run
	observer Observer
	open     map[int]bool // positions that are being worked on
	next     int          // the first position that was not handed on
}

// through queues the positions and comes back when all of them are settled, or with the context's error. Those in again are
// handed on then, though others that come after them were before.
func (p *reporter) through(ctx context.Context, open, again []int) error {
	p.opened(open)
	if err := p.queue.Add(ctx, open); err != nil {
		return err
	}
	for {
		if err := p.report(ctx); err != nil {
			return err
		}
		if len(p.open) == 0 {
			for _, position := range again {
				if err := p.hand(ctx, position); err != nil {
					return err
				}
			}
			return nil
		}
		select {
		case position := <-p.settled:
			delete(p.open, position)
			p.observer.Settled(len(p.items) - len(p.open))
		case fault := <-p.queue.Faults():
			return fault
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
}

// deliver writes the evidence and puts it into its place. What was taken over from an earlier pack and was changed there is
// made anew first. writing is the context of the writing itself.
func (p *reporter) deliver(ctx, writing context.Context) error {
	for {
		err := p.write(writing, p.observer)
		if !errors.Is(err, errTakenChanged) {
			return err
		}
		lost, err := p.lost(ctx)
		if err != nil {
			return err
		}
		p.opened(lost)
		if err := p.queue.AddAgain(ctx, lost); err != nil {
			return err
		}
		if err := p.through(ctx, nil, nil); err != nil {
			return err
		}
	}
}

func (p *reporter) opened(positions []int) {
	for _, position := range positions {
		p.open[position] = true
	}
}

// report hands on what is settled up to the first picture that is not.
func (p *reporter) report(ctx context.Context) error {
	for p.next < len(p.items) && !p.open[p.next] {
		if err := p.hand(ctx, p.next); err != nil {
			return err
		}
		p.next++
	}
	return nil
}

func (p *reporter) hand(ctx context.Context, position int) error {
	picture, err := p.history.Picture(ctx, p.scan, position)
	if err != nil {
		return err
	}
	if err := p.observer.Picture(picture); err != nil {
		return observerError{err}
	}
	return nil
}
