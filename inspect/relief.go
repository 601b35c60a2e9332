package inspect

// measureRelief finds what departs from a smooth film. Scale is mm per patch
// px, 0 when unknown.
func measureRelief(l *look, c *coat, notCoat []bool, scale float64) ([]ReliefFault, *Relief, error) {
	return []ReliefFault{}, &Relief{Deviation: []Sway{}}, nil
}

// compareOutlines sets each head's outline against the others of its style.
func compareOutlines(r *Results) {}
