package voicing

import "math"

// proof puts a floor under what a joint choice of ladders costs, and drops
// voicings that are in no better choice than the best yet.
//
// Each node, one chord at one rung, has a voicing to choose. A voicing has a
// price of its own; a pair of voicings of chords that follow each other has the
// price of the steps between them; a pair on two neighbouring rungs of a chord
// costs nothing if the fuller holds the thinner, and too much if not. Any part
// of a pair's price may be charged to its two voicings instead, as their shares:
// that changes what no choice costs. So whatever the shares are, the sum of every
// node's cheapest voicing and every link's cheapest rest is a floor under all
// choices, and a voicing costs any choice that it is in at least as much more as
// it and its cheapest pairs cost more than those.
//
// The shares move link by link: all that two nodes have goes into the link's
// pairs, and from there back to the one as far as half, to the other, and to the
// one again. No such move lowers the floor. This is block-coordinate ascent on
// the dual of the linear relaxation (Globerson & Jaakkola 2007, in the order of
// Tourani et al. 2018; both from memory), but the floor holds however the shares
// came about.
type proof struct {
	nodes []node
	links []link
	floor float64
	empty bool // some node has no voicing left: nothing costs less than the limit

	excess [][]float64
	first  []int // of each chord: its first node
	row    []float64
	above  []float64
	kept   []bool
	chosen []int
	sums   [][]float64
}

// node is the choice of one chord's voicing at one rung.
type node struct {
	chord, rung int
	voicings    []uint16  // those left of the lattice's rung
	price       []float64 // of each, with its shares of every link
}

// link is the pairs of two nodes' voicings.
type link struct {
	first, second int
	price         []float64 // a row for each voicing of first
	shares        [2][]float64
}

// forbidden is the price of a pair that does not nest: beyond what weights inside
// their ranges can make of ladders.
const forbidden = 1e15

// maxPriced bounds the pairs that a proof holds: 32 MiB.
const maxPriced = 4 << 20

// set makes the links between the nodes that were chosen.
func (p *proof) set(e *Engine, j *joint) {
	p.empty, p.floor = false, math.Inf(-1)
	p.nest(j)
	for h := range j.lattices {
		for i := range h {
			p.join(e, j, i, h)
		}
	}
}

// choose makes a node for each rung of each chord, with at most width voicings,
// those on the ladders of the least own costs. It reports whether these are all
// that there are.
func (p *proof) choose(e *Engine, j *joint, width int) (all bool) {
	all = true
	p.nodes, p.first = p.nodes[:0], p.first[:0]
	for i, l := range j.lattices {
		p.first = append(p.first, len(p.nodes))
		most := e.within(l, width)
		all = all && l.complete && math.IsInf(most, 1)
		near := j.near[:0]
		if i == j.enter {
			near = append(near, neighbour{at: &j.from})
		}
		j.near = near
		for r := l.low; r <= l.high; r++ {
			p.nodes = grow(p.nodes, len(p.nodes)+1)
			n := &p.nodes[len(p.nodes)-1]
			n.chord, n.rung = i, r
			e.priceRung(l, r, j.times, near)
			n.voicings, n.price = n.voicings[:0], n.price[:0]
			for v, price := range e.climber.price[r] {
				if e.through[r][v] <= most {
					n.voicings, n.price = append(n.voicings, uint16(v)), append(n.price, price)
				}
			}
		}
	}
	return all
}

// within gives the highest own cost of a whole ladder at which no rung of l has
// more than width voicings on ladders that cost as little. It leaves in
// e.through the least own cost of a ladder through each voicing.
func (e *Engine) within(l *lattice, width int) float64 {
	for r := l.low; r <= l.high; r++ {
		own := l.rungs[r].own
		e.through[r], e.above[r] = append(e.through[r][:0], own...), grow(e.above[r], len(own))[:len(own)]
		for v := range own {
			if e.above[r][v] = math.Inf(1); r == l.high {
				e.above[r][v] = 0
			}
			if r > l.low {
				least := math.Inf(1)
				for _, u := range l.rungs[r].below[v*r : (v+1)*r] {
					if u != none {
						least = min(least, e.through[r-1][u])
					}
				}
				e.through[r][v] += least
			}
		}
	}
	most := math.Inf(1)
	for r := l.high; r >= l.low; r-- {
		for v := range e.through[r] {
			if r > l.low {
				for _, u := range l.rungs[r].below[v*r : (v+1)*r] {
					if u != none {
						e.above[r-1][u] = min(e.above[r-1][u], e.above[r][v]+l.rungs[r].own[v])
					}
				}
			}
			e.through[r][v] += e.above[r][v]
		}
		if len(e.through[r]) > width {
			e.ranked = append(e.ranked[:0], e.through[r]...)
			most = min(most, smallest(e.ranked, width))
		}
	}
	return most
}

// size counts the pairs.
func (p *proof) size() (n int) {
	for k := range p.links {
		n += len(p.links[k].price)
	}
	return n
}

// count counts the pairs that links between the nodes will have.
func (p *proof) count(e *Engine, j *joint) (n int) {
	for i, l := range j.lattices {
		for r := l.low + 1; r <= l.high; r++ {
			n += len(p.at(j, i, r-1).voicings) * len(p.at(j, i, r).voicings)
		}
		for h := range i {
			if there, back := j.between(h, i); there+back > 0 {
				for d := e.s.Thin; d <= e.s.Full; d++ {
					n += len(p.at(j, h, d).voicings) * len(p.at(j, i, d).voicings)
				}
			}
		}
	}
	return n
}

// at gives chord i's node at d voices.
func (p *proof) at(j *joint, i, d int) *node { return &p.nodes[p.number(j, i, d)] }

func (p *proof) number(j *joint, i, d int) int {
	l := j.lattices[i]
	return p.first[i] + min(max(d, l.low), l.high) - l.low
}

// between counts the steps that lead from one chord to another, and back.
func (j *joint) between(i, h int) (there, back float64) {
	for _, edge := range j.edges {
		switch edge {
		case [2]int{i, h}:
			there++
		case [2]int{h, i}:
			back++
		}
	}
	return there, back
}

// link gives a new link between two nodes, its pairs at a price.
func (p *proof) link(first, second int, price float64) *link {
	p.links = grow(p.links, len(p.links)+1)
	k := &p.links[len(p.links)-1]
	k.first, k.second = first, second
	n, m := len(p.nodes[first].voicings), len(p.nodes[second].voicings)
	k.price = grow(k.price, n*m)[:n*m]
	for i := range k.price {
		k.price[i] = price
	}
	k.shares[0], k.shares[1] = grow(k.shares[0], n)[:n], grow(k.shares[1], m)[:m]
	clear(k.shares[0])
	clear(k.shares[1])
	return k
}

// nest links the rungs of each chord.
func (p *proof) nest(j *joint) {
	p.links = p.links[:0]
	for i, l := range j.lattices {
		for r := l.low + 1; r <= l.high; r++ {
			n := p.number(j, i, r)
			k := p.link(n-1, n, forbidden)
			thin, full := p.nodes[n-1].voicings, p.nodes[n].voicings
			for v, number := range full {
				for _, u := range l.rungs[r].below[int(number)*r : (int(number)+1)*r] {
					if at := search16(thin, u); at >= 0 {
						k.price[at*len(full)+v] = 0
					}
				}
			}
		}
	}
}

// join links two chords at every number of voices, if one follows the other.
func (p *proof) join(e *Engine, j *joint, i, h int) {
	there, back := j.between(i, h)
	if there+back == 0 {
		return
	}
	last := -1
	var k *link
	for d := e.s.Thin; d <= e.s.Full; d++ {
		a, b := p.number(j, i, d), p.number(j, h, d)
		if key := a*len(p.nodes) + b; key != last {
			k, last = p.link(a, b, 0), key
		}
		from, to := &j.lattices[i].rungs[p.nodes[a].rung], &j.lattices[h].rungs[p.nodes[b].rung]
		e.some.pick(to, p.nodes[b].voicings)
		w := len(p.nodes[b].voicings)
		for u, number := range p.nodes[a].voicings {
			c := candidateOf(from.voicing(int(number)))
			row := k.price[u*w : (u+1)*w]
			e.addSteps(row, &e.some, &c, there*e.s.RungWeight[d], back*e.s.RungWeight[d])
		}
	}
}

// pick makes r some voicings of another rung; own costs and what is below are
// left out.
func (r *rung) pick(from *rung, numbers []uint16) {
	*r = rung{from.voices, r.words[:0], r.pitches[:0], r.own[:0], r.below[:0]}
	for _, i := range numbers {
		r.words, r.pitches = append(r.words, from.words[i]), append(r.pitches, from.pitches[i])
	}
}

// search16 finds x in an ascending list, or gives -1.
func search16(list []uint16, x uint16) int {
	low, high := 0, len(list)
	for low < high {
		if middle := (low + high) / 2; list[middle] < x {
			low = middle + 1
		} else {
			high = middle
		}
	}
	if low < len(list) && list[low] == x {
		return low
	}
	return -1
}

// pass moves shares over every link, once forward and once back.
func (p *proof) pass() {
	for k := range p.links {
		p.share(&p.links[k])
	}
	for k := len(p.links) - 1; k >= 0; k-- {
		p.share(&p.links[k])
	}
}

// share gathers all that two nodes have into a link and gives it out anew.
func (p *proof) share(l *link) {
	a, b, sa, sb := p.nodes[l.first].price, p.nodes[l.second].price, l.shares[0], l.shares[1]
	w := len(b)
	sb = sb[:w]
	for v := range b {
		b[v] -= sb[v]
		sb[v] = math.Inf(1)
	}
	for u := range a {
		row := l.price[u*w:][:w]
		least := math.Inf(1)
		for v, c := range row {
			least = min(least, c+b[v])
		}
		a[u] -= sa[u]
		half := (least - a[u]) / 2
		for v, c := range row {
			sb[v] = min(sb[v], c-half)
		}
	}
	for u := range a {
		least := math.Inf(1)
		for v, c := range l.price[u*w:][:w] {
			least = min(least, c-sb[v])
		}
		sa[u] = least
		a[u] += least
	}
	for v := range b {
		b[v] += sb[v]
	}
}

// bound finds the floor, and drops every voicing that no choice of at most
// limit has.
func (p *proof) bound(limit float64) {
	p.floor = 0
	p.excess = grow(p.excess, len(p.nodes))
	for n := range p.nodes {
		price := p.nodes[n].price
		least := lowest(price)
		p.floor += least
		p.excess[n] = append(p.excess[n][:0], price...)
		for v := range price {
			p.excess[n][v] -= least
		}
	}
	for k := range p.links {
		l := &p.links[k]
		w := len(l.shares[1])
		cols := grow(p.row, w)[:w]
		rows := p.rows(len(l.shares[0]))
		for v := range cols {
			cols[v] = math.Inf(1)
		}
		for u := range rows {
			share, least := l.shares[0][u], math.Inf(1)
			for v, c := range l.price[u*w : (u+1)*w] {
				c -= share + l.shares[1][v]
				least = min(least, c)
				cols[v] = min(cols[v], c)
			}
			rows[u] = least
		}
		least := lowest(cols)
		p.floor += least
		for u := range rows {
			p.excess[l.first][u] += rows[u] - least
		}
		for v := range cols {
			p.excess[l.second][v] += cols[v] - least
		}
		p.row = cols
	}
	for n := range p.nodes {
		p.kept = grow(p.kept, len(p.excess[n]))[:len(p.excess[n])]
		dropped := false
		for v, excess := range p.excess[n] {
			p.kept[v] = p.floor+excess <= limit
			dropped = dropped || !p.kept[v]
		}
		if dropped {
			p.drop(n)
		}
	}
}

func (p *proof) rows(n int) []float64 {
	p.above = grow(p.above, n)[:n]
	return p.above
}

func lowest(list []float64) float64 {
	least := math.Inf(1)
	for _, x := range list {
		least = min(least, x)
	}
	return least
}

// only leaves node n its voicing number v.
func (p *proof) only(n, v int) {
	p.kept = grow(p.kept, len(p.nodes[n].price))[:len(p.nodes[n].price)]
	clear(p.kept)
	p.kept[v] = true
	p.drop(n)
}

// drop leaves node n the voicings that are kept.
func (p *proof) drop(n int) {
	node, at := &p.nodes[n], 0
	for v, kept := range p.kept {
		if kept {
			node.voicings[at], node.price[at] = node.voicings[v], node.price[v]
			at++
		}
	}
	node.voicings, node.price = node.voicings[:at], node.price[:at]
	p.empty = p.empty || at == 0
	for k := range p.links {
		l := &p.links[k]
		w := len(l.shares[1])
		switch n {
		case l.first:
			at := 0
			for u, kept := range p.kept {
				if kept {
					copy(l.price[at*w:(at+1)*w], l.price[u*w:(u+1)*w])
					l.shares[0][at] = l.shares[0][u]
					at++
				}
			}
			l.price, l.shares[0] = l.price[:at*w], l.shares[0][:at]
		case l.second:
			at := 0
			for u := range l.shares[0] {
				for v, kept := range p.kept {
					if kept {
						l.price[at] = l.price[u*w+v]
						at++
					}
				}
			}
			l.price = l.price[:at]
			at = 0
			for v, kept := range p.kept {
				if kept {
					l.shares[1][at] = l.shares[1][v]
					at++
				}
			}
			l.shares[1] = l.shares[1][:at]
		}
	}
}

// copy makes p a copy of q.
func (p *proof) copy(q *proof) {
	p.floor, p.empty, p.first = q.floor, q.empty, append(p.first[:0], q.first...)
	p.nodes = grow(p.nodes, len(q.nodes))[:len(q.nodes)]
	for n := range q.nodes {
		from, to := &q.nodes[n], &p.nodes[n]
		to.chord, to.rung = from.chord, from.rung
		to.voicings, to.price = append(to.voicings[:0], from.voicings...), append(to.price[:0], from.price...)
	}
	p.links = grow(p.links, len(q.links))[:len(q.links)]
	for k := range q.links {
		from, to := &q.links[k], &p.links[k]
		to.first, to.second = from.first, from.second
		to.price = append(to.price[:0], from.price...)
		for s := range to.shares {
			to.shares[s] = append(to.shares[s][:0], from.shares[s]...)
		}
	}
}

// branch gives the node with the fewest voicings, but more than one, or -1.
func (p *proof) branch() int {
	best := -1
	for n := range p.nodes {
		if k := len(p.nodes[n].voicings); k > 1 && (best < 0 || k < len(p.nodes[best].voicings)) {
			best = n
		}
	}
	return best
}

// round chooses ladders chord by chord, from number start on, each the best by
// the prices with shares and with what is chosen before it. It reports false where
// none is left.
func (p *proof) round(e *Engine, j *joint, start int) bool {
	if p.empty {
		return false
	}
	p.chosen = grow(p.chosen, len(p.nodes))[:len(p.nodes)]
	for n := range p.chosen {
		p.chosen[n] = -1
	}
	p.sums = grow(p.sums, len(p.nodes))
	for k := range j.lattices {
		i := (start + k) % len(j.lattices)
		l, low := j.lattices[i], p.first[i]
		high := low + l.high - l.low
		for n := low; n <= high; n++ {
			p.sums[n] = append(p.sums[n][:0], p.nodes[n].price...)
		}
		for k := range p.links {
			link := &p.links[k]
			w := len(link.shares[1])
			if u := p.chosen[link.first]; u >= 0 && link.second >= low && link.second <= high {
				for v := range p.sums[link.second] {
					p.sums[link.second][v] += link.price[u*w+v] - link.shares[1][v]
				}
			}
			if v := p.chosen[link.second]; v >= 0 && link.first >= low && link.first <= high {
				for u := range p.sums[link.first] {
					p.sums[link.first][u] += link.price[u*w+v] - link.shares[0][u]
				}
			}
		}
		for n := low + 1; n <= high; n++ {
			link := p.nested(n)
			w := len(link.shares[1])
			for v := range p.sums[n] {
				least := math.Inf(1)
				for u, sum := range p.sums[n-1] {
					least = min(least, sum+link.price[u*w+v]-link.shares[0][u])
				}
				p.sums[n][v] += least - link.shares[1][v]
			}
		}
		for n := high; n >= low; n-- {
			least := math.Inf(1)
			for v, sum := range p.sums[n] {
				if n < high {
					link := p.nested(n + 1)
					sum += link.price[v*len(link.shares[1])+p.chosen[n+1]] - link.shares[0][v]
				}
				if sum < least {
					least, p.chosen[n] = sum, v
				}
			}
			if least > forbidden/2 {
				return false
			}
		}
		j.choose(e, i, p.ladder(e, l, low))
	}
	return true
}

// nested gives the link from the rung below node n.
func (p *proof) nested(n int) *link {
	for k := range p.links {
		if p.links[k].first == n-1 && p.links[k].second == n {
			return &p.links[k]
		}
	}
	panic("voicing: a rung is not linked to the one below")
}

// ladder gives the ladder chosen in the nodes from number low on.
func (p *proof) ladder(e *Engine, l *lattice, low int) Ladder {
	number := func(r int) int {
		n := low + r - l.low
		return int(p.nodes[n].voicings[p.chosen[n]])
	}
	thin := l.rungs[l.low].voicing(number(l.low))
	out := Ladder{Bass: thin.Bass, Low: uint8(l.low), High: uint8(l.high), Dropped: l.low > e.s.Thin || l.high < e.s.Full}
	copy(out.Entry[:], thin.Notes())
	for r := l.low + 1; r <= l.high; r++ {
		out.Entry[r-1] = l.rungs[r].pitches[number(r)].Without(l.rungs[r-1].pitches[number(r-1)]).lowest()
	}
	return out
}
