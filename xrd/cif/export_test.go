package cif

// Loop returns the loop that has one of the tags as a column. It reports false when there is none.
func (b *Block) Loop(tags ...string) (*Loop, bool) {
	for _, tag := range tags {
		if at, ok := b.index[fold(tag)]; ok && b.parts[at.part].loop != nil {
			return b.parts[at.part].loop, true
		}
	}
	return nil, false
}

// Loops returns the loops in order.
func (b *Block) Loops() []*Loop {
	var loops []*Loop
	for _, p := range b.parts {
		if p.loop != nil {
			loops = append(loops, p.loop)
		}
	}
	return loops
}

// Tags returns all tags as written, in order.
func (b *Block) Tags() []string {
	var tags []string
	for _, p := range b.parts {
		if p.loop != nil {
			tags = append(tags, p.loop.Tags...)
		} else {
			tags = append(tags, p.tag)
		}
	}
	return tags
}

// Column returns the number of the column that has one of the tags, -1 when there is none.
func (l *Loop) Column(tags ...string) int {
	for _, tag := range tags {
		for i, t := range l.Tags {
			if fold(t) == fold(tag) {
				return i
			}
		}
	}
	return -1
}
