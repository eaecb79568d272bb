package cif

import (
	"maps"
	"strings"
)

// A Document is the data blocks of a file, in order.
type Document struct{ Blocks []Block }

// A Block is one data block. Its zero value, or NewBlock, is an empty one to add to.
type Block struct {
	Name  string           // what follows data_
	Line  int              // where it starts, counted from 1; 0 for a block that was not read
	parts []part           // items and loops in order
	index map[string]place // by folded tag
	names map[string]bool  // tags in lower case
}

// A part is either one item or one loop.
type part struct {
	tag   string
	value Value
	loop  *Loop
}

// A place says where a tag's values are: the part, and the column when it is a loop.
type place struct{ part, column int }

// A Loop is a table: Tags name the columns, every row is as long as Tags.
type Loop struct {
	Line int       // of the file where it begins
	Tags []string  // names of the columns, as written
	Rows [][]Value // values, parallel to Tags
}

// fold makes tags comparable.
func fold(tag string) string { return strings.ReplaceAll(strings.ToLower(tag), ".", "_") }

// Value returns the value of the first of the tags that the block gives: an item, or the first row of a loop. Values that
// are unknown or inapplicable count as not given.
func (b *Block) Value(tags ...string) (Value, bool) {
	for _, tag := range tags {
		if column := b.Column(tag); len(column) > 0 && column[0].Given() {
			return column[0], true
		}
	}
	return Value{}, false
}

// Text returns the text of the first of the tags that the block gives, without surrounding blanks; "" if none.
func (b *Block) Text(tags ...string) string {
	v, _ := b.Value(tags...)
	return strings.TrimSpace(v.Text)
}

// Column returns all values of the first of the tags that the block has: one for an item, one a row for a loop. It returns
// nil when the block has none of them.
func (b *Block) Column(tags ...string) []Value {
	for _, tag := range tags {
		at, ok := b.index[fold(tag)]
		if !ok {
			continue
		}
		p := &b.parts[at.part]
		if p.loop == nil {
			return []Value{p.value}
		}
		column := make([]Value, len(p.loop.Rows))
		for i, row := range p.loop.Rows {
			column[i] = row[at.column]
		}
		return column
	}
	return nil
}

// add appends a part, unless one of its tags is there already under the very same name: that tag is returned and nothing changes. An
// alias with a dot instead of an underscore may stand beside it; the first one is found by Value.
func (b *Block) add(p part) (again string) {
	tags := []string{p.tag}
	if p.loop != nil {
		tags = p.loop.Tags
	}
	mine := make(map[string]bool, len(tags))
	for _, tag := range tags {
		name := strings.ToLower(tag)
		if b.names[name] || mine[name] {
			return tag
		}
		mine[name] = true
	}
	if b.index == nil {
		b.index, b.names = map[string]place{}, map[string]bool{}
	}
	maps.Copy(b.names, mine)
	for column, tag := range tags {
		if _, seen := b.index[fold(tag)]; !seen {
			b.index[fold(tag)] = place{len(b.parts), column}
		}
	}
	b.parts = append(b.parts, p)
	return ""
}
