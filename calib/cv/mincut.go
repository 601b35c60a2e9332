//go:build gocv_specific_modules

package cv

import (
	"image"
	"math"
)

// Directions from a pixel to its neighbours; the one back differs in the last bit.
const (
	left = iota
	right
	up
	down
	upLeft
	downRight
	upRight
	downLeft

	directions

	toEnd   // what a tree's root hangs on: inside or outside itself
	orphan  // what has lost what it hung on
	nowhere // what is in no tree
)

var steps = [directions]image.Point{{X: -1}, {X: 1}, {Y: -1}, {Y: 1}, {X: -1, Y: -1}, {X: 1, Y: 1}, {X: 1, Y: -1}, {X: -1, Y: 1}}

// A minCut finds the line between inside and outside that costs least: of links cut, and of
// pixels on the side that they are less drawn to. It lies where the largest flow from inside
// to outside fills all links; two trees that grow towards each other find where more can
// flow (Y. Boykov and V. Kolmogorov, IEEE Trans. Pattern Anal. Mach. Intell. 26(9),
// 1124–1137, 2004, doi:10.1109/TPAMI.2004.60). What flows stays for the next search, in
// which pixels are drawn otherwise but linked the same (P. Kohli and P. H. S. Torr, ibid.
// 29(12), 2079–2088, 2007, doi:10.1109/TPAMI.2007.1128).
type minCut struct {
	w, stride int // of the picture, and with a border of one pixel around it
	beside    [directions]int32
	pixels    []pixel
	first     int32 // of the pixels from which trees may grow
	last      int32
	orphans   []int32
	now       int32 // counts flows
}

type pixel struct {
	room   [directions]float64 // for more to flow to a neighbour
	excess float64             // of what it is drawn to the inside, what no flow has taken; less than 0 to the outside
	drawn  float64             // to the inside
	pulled float64             // to the inside, by what is known beside it
	hangs  uint8               // in its tree on a direction, toEnd, orphan or nowhere
	tree   uint8               // 0 grows from inside, 1 from outside
	far    int32               // from its root
	when   int32               // far was true
	next   int32               // of those from which trees may grow; 0 for none of them, itself for the last
}

func newMinCut(w, h int) *minCut {
	m := &minCut{w: w, stride: w + 2, pixels: make([]pixel, (w+2)*(h+2))}
	for d, s := range steps {
		m.beside[d] = int32(s.Y*m.stride + s.X)
	}
	return m
}

// at is where the i-th pixel of the picture is.
func (m *minCut) at(i int) *pixel { return &m.pixels[(i/m.w+1)*m.stride+i%m.w+1] }

// link makes it cost that much to part the i-th pixel from its neighbour.
func (m *minCut) link(i, direction int, cost float64) {
	p := (i/m.w+1)*m.stride + i%m.w + 1
	m.pixels[p].room[direction] += cost
	m.pixels[p+int(m.beside[direction])].room[direction^1] += cost
}

// pull draws the i-th pixel to the inside for good, by less than 0 to the outside.
func (m *minCut) pull(i int, by float64) { m.at(i).pulled += by }

// set draws the i-th pixel to the inside in the next search, by less than 0 to the outside.
func (m *minCut) set(i int, by float64) {
	p := m.at(i)
	by += p.pulled
	p.excess += by - p.drawn
	p.drawn = by
}

// inside tells the side of the i-th pixel.
func (m *minCut) inside(i int) bool { return m.at(i).tree == 0 }

// find finds the line.
func (m *minCut) find() {
	m.now, m.first, m.last = 0, 0, 0
	for i := range m.pixels {
		p := &m.pixels[i]
		p.next, p.when, p.far, p.tree = 0, 0, 1, 0
		switch {
		case p.excess == 0:
			p.hangs = nowhere
			continue
		case p.excess < 0:
			p.tree = 1
		}
		p.hangs = toEnd
		m.mayGrow(int32(i))
	}
	for {
		i, d, met := m.grow()
		if !met {
			return
		}
		m.fill(i, d)
		m.now++
		m.adopt()
	}
}

func (m *minCut) mayGrow(i int32) {
	p := &m.pixels[i]
	if p.next != 0 {
		return
	}
	p.next = i
	if m.first == 0 {
		m.first = i
	} else {
		m.pixels[m.last].next = i
	}
	m.last = i
}

// grow lets the trees grow until they meet at a link with room, which is returned as the
// pixel on the inside's tree and the direction from there.
func (m *minCut) grow() (at int32, direction int, met bool) {
	for m.first != 0 {
		i := m.first
		p := &m.pixels[i]
		for d := 0; d < directions && p.hangs != nowhere; d++ {
			j := i + m.beside[d]
			q := &m.pixels[j]
			if room := p.room[d]; p.tree == 0 && room == 0 {
				continue
			} else if p.tree == 1 && q.room[d^1] == 0 {
				continue
			}
			switch {
			case q.hangs == nowhere:
				q.tree, q.hangs, q.when, q.far = p.tree, uint8(d^1), p.when, p.far+1
				m.mayGrow(j)
			case q.tree != p.tree && p.tree == 0:
				return i, d, true
			case q.tree != p.tree:
				return j, d ^ 1, true
			case q.far > p.far+1 && q.when <= p.when: // nearer to a root by this way
				q.hangs, q.when, q.far = uint8(d^1), p.when, p.far+1
			}
		}
		if m.first = p.next; m.first == i {
			m.first = 0
		}
		p.next = 0
	}
	return 0, 0, false
}

// fill lets flow what it can from the root of one tree to that of the other, through a
// link between them.
func (m *minCut) fill(i int32, direction int) {
	from, to := i, i+m.beside[direction]
	most := m.pixels[from].room[direction]
	root := from
	for p := &m.pixels[root]; p.hangs != toEnd; p = &m.pixels[root] {
		root += m.beside[p.hangs]
		most = min(most, m.pixels[root].room[p.hangs^1])
	}
	end := to
	for p := &m.pixels[end]; p.hangs != toEnd; p = &m.pixels[end] {
		most = min(most, p.room[p.hangs])
		end += m.beside[p.hangs]
	}
	most = min(most, m.pixels[root].excess, -m.pixels[end].excess)

	m.pixels[from].room[direction] -= most
	m.pixels[to].room[direction^1] += most
	for i := from; i != root; {
		p := &m.pixels[i]
		d := p.hangs
		above := i + m.beside[d]
		q := &m.pixels[above]
		p.room[d] += most
		if q.room[d^1] -= most; q.room[d^1] == 0 {
			m.orphan(i)
		}
		i = above
	}
	if p := &m.pixels[root]; p.excess == most {
		p.excess = 0
		m.orphan(root)
	} else {
		p.excess -= most
	}
	for i := to; i != end; {
		p := &m.pixels[i]
		d := p.hangs
		i += m.beside[d]
		m.pixels[i].room[d^1] += most
		if p.room[d] -= most; p.room[d] == 0 {
			m.orphan(i - m.beside[d])
		}
	}
	if p := &m.pixels[end]; p.excess == -most {
		p.excess = 0
		m.orphan(end)
	} else {
		p.excess += most
	}
}

func (m *minCut) orphan(i int32) {
	m.pixels[i].hangs = orphan
	m.orphans = append(m.orphans, i)
}

// adopt hangs what has lost its place in a tree on another neighbour of the same tree, the
// nearest to a root, or else nowhere.
func (m *minCut) adopt() {
	for len(m.orphans) > 0 {
		i := m.orphans[len(m.orphans)-1]
		m.orphans = m.orphans[:len(m.orphans)-1]
		p := &m.pixels[i]
		nearest, by := int32(math.MaxInt32), -1
		for d := range directions {
			j := i + m.beside[d]
			q := &m.pixels[j]
			if q.hangs == nowhere || q.tree != p.tree || p.tree == 0 && q.room[d^1] == 0 || p.tree == 1 && p.room[d] == 0 {
				continue
			}
			if far, rooted := m.farness(j); rooted && far+1 < nearest {
				nearest, by = far+1, d
			}
		}
		if by >= 0 {
			p.hangs, p.when, p.far = uint8(by), m.now, nearest
			continue
		}
		p.hangs, p.when = nowhere, 0
		for d := range directions {
			j := i + m.beside[d]
			q := &m.pixels[j]
			if q.hangs == nowhere || q.tree != p.tree {
				continue
			}
			if p.tree == 0 && q.room[d^1] > 0 || p.tree == 1 && p.room[d] > 0 {
				m.mayGrow(j)
			}
			if q.hangs == uint8(d^1) {
				m.orphan(j)
			}
		}
	}
}

// farness is how far a pixel is from its root, which it may have lost.
func (m *minCut) farness(i int32) (far int32, rooted bool) {
	j := i
	for p := &m.pixels[j]; ; p = &m.pixels[j] {
		if p.when == m.now {
			far += p.far
			break
		}
		if p.hangs == orphan {
			return 0, false
		}
		far++
		if p.hangs == toEnd {
			p.when, p.far = m.now, 1
			break
		}
		j += m.beside[p.hangs]
	}
	whole := far
	for p := &m.pixels[i]; p.when != m.now; p = &m.pixels[i] {
		p.when, p.far = m.now, far
		far--
		i += m.beside[p.hangs]
	}
	return whole, true
}
