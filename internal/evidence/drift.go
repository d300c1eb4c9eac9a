package evidence

import "crimprule/internal/site"

// drift gathers the values of each tool.
type drift struct{}

func (*drift) take(site.Crimp) {}
