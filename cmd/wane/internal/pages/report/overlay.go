package report

// overlay is the page on which declines are laid over each other.
type overlay struct {
	Lowest []Cell // groups of lamps to begin with
}

func overlayOf(b *book) (any, bool) {
	if len(b.due) == 0 {
		return nil, false
	}
	var c overlay
	for i := range b.rooms {
		if ids := b.rooms[i].lowest(4); len(ids) > 1 {
			c.Lowest = append(c.Lowest, Cell{Text: roomWords(b.rooms[i].name), Link: overlayLink("overlay.html", ids)})
		}
	}
	if len(c.Lowest) > 20 {
		c.Lowest = c.Lowest[:20]
	}
	return c, true
}
