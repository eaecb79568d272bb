package refdata

import "math/bits"

// An ElementSet is a set of elements by atomic number, 1 to 127.
type ElementSet [2]uint64

// With returns the set with one more element.
func (s ElementSet) With(z int) ElementSet {
	s[z>>6&1] |= 1 << (z & 63)
	return s
}

// Has reports whether the element is in the set.
func (s ElementSet) Has(z int) bool { return s[z>>6&1]&(1<<(z&63)) != 0 }

// Union returns the elements of both sets.
func (s ElementSet) Union(t ElementSet) ElementSet { return ElementSet{s[0] | t[0], s[1] | t[1]} }

// Within reports whether every element of s is in t.
func (s ElementSet) Within(t ElementSet) bool { return s[0]&^t[0] == 0 && s[1]&^t[1] == 0 }

// Meets reports whether the sets have an element in common.
func (s ElementSet) Meets(t ElementSet) bool { return s[0]&t[0] != 0 || s[1]&t[1] != 0 }

// Len returns the number of elements.
func (s ElementSet) Len() int { return bits.OnesCount64(s[0]) + bits.OnesCount64(s[1]) }
