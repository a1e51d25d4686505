package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// joint is the choice of one ladder for each of some chords, with the steps
// that lead from one to another. What it costs is the sum over the numbers of
// voices r of RungWeight[r] times the own costs of all voicings at r, each counted
// times over, and of all steps at r.
type joint struct {
	lattices []*lattice
	edges    [][2]int // chord to chord
	times    float64  // how often a chord's own cost counts
	from     densities
	enter    int // where from leads to, or -1

	ladders []Ladder    // the choice under way
	at      []densities // the same, written out
	near    []neighbour

	best   []Ladder // the best choice yet
	cost   float64  // what it costs
	proved bool     // no choice costs less
	proofs []*proof // by the depth of branching
	budget int      // the most work for any choice
	room   int      // work that may still be done
	tries  int
}

// Budgets of pairs of voicings looked at, again and again, before a choice is
// settled without proof; a million takes some 3 ms.
const (
	inHurry  = 4 << 20   // while a bed sounds and a player waits
	inQuiet  = 32 << 20  // before anything sounds
	atLength = 256 << 20 // where a proof is asked for
)

// open begins a choice among the ladders of some chords. Edges say which follows
// which; settle makes the choice.
func (j *joint) open(e *Engine, key pitch.Key, first, second []harmony.Chord) error {
	e.shelf.call++
	j.lattices, j.edges, j.enter, j.times = j.lattices[:0], j.edges[:0], -1, 1
	for _, group := range [2][]harmony.Chord{first, second} {
		for _, c := range group {
			l, err := e.lattice(c, key)
			if err != nil {
				return err
			}
			j.lattices = append(j.lattices, l)
		}
	}
	n := len(j.lattices)
	j.ladders, j.at, j.best = grow(j.ladders, n)[:n], grow(j.at, n)[:n], grow(j.best, n)[:n]
	return nil
}

// comes makes from sound before chord number enter.
func (j *joint) comes(e *Engine, from *Ladder, enter int) {
	if from != nil {
		j.from.spread(from, e.s.Thin, e.s.Full)
		j.enter = enter
	}
}

// edge makes chord v follow chord p.
func (j *joint) edge(p, v int) {
	if p != v {
		j.edges = append(j.edges, [2]int{p, v})
	}
}

// around lists the neighbours of chord i among the chords before known.
func (j *joint) around(i, known int) []neighbour {
	near := j.near[:0]
	if i == j.enter {
		near = append(near, neighbour{at: &j.from})
	}
	for _, edge := range j.edges {
		if edge[1] == i && edge[0] < known {
			near = append(near, neighbour{at: &j.at[edge[0]]})
		}
		if edge[0] == i && edge[1] < known {
			near = append(near, neighbour{at: &j.at[edge[1]], after: true})
		}
	}
	j.near = near
	return near
}

// settle finds the best choice, or one that is not proved to be when the budget
// is used up.
func (j *joint) settle(e *Engine, budget int) {
	j.room, j.proved, j.tries = min(budget, j.budget), false, 0
	for i := range j.ladders {
		l, _ := e.climb(j.lattices[i], j.times, j.around(i, i))
		j.choose(e, i, l)
	}
	j.cost = j.descend(e)
	copy(j.best, j.ladders)
	if len(j.lattices) == 1 {
		j.proved = j.lattices[0].complete
		return
	}
	p := j.proof(0)
	for width, was := firstWidth, 0; ; width *= 4 {
		all := p.choose(e, j, width)
		pairs := p.count(e, j)
		if pairs == was || pairs > maxPriced || turn*pairs > j.room {
			return
		}
		was = pairs
		p.set(e, j)
		done := j.close(e, p, 0)
		if j.proved = all && done; all {
			return
		}
	}
}

// turn is how often a pair is looked at, at the least, before the first answer.
const turn = 12

// firstWidth is how many voicings a rung may have at first: the fewer there are
// the sooner good ladders are known, and these cut short the search among more.
const firstWidth = 32

// choose makes l the ladder of chord i.
func (j *joint) choose(e *Engine, i int, l Ladder) {
	j.ladders[i] = l
	j.at[i].spread(&l, e.s.Thin, e.s.Full)
}

// descend improves one ladder at a time, each exactly among its neighbours, until
// none can be improved alone, and gives what all cost.
func (j *joint) descend(e *Engine) float64 {
	n := len(j.ladders)
	for i, still := 0, 0; still < n && j.room > 0; i = (i + 1) % n {
		still++
		l, cost := e.climb(j.lattices[i], j.times, j.around(i, n))
		if l != j.ladders[i] && cost < j.local(e, i)-slack {
			j.choose(e, i, l)
			still = 1
		}
		j.room -= j.lattices[i].size()
	}
	return j.price(e)
}

// local is what chord i costs with all its neighbours.
func (j *joint) local(e *Engine, i int) (sum float64) {
	for r := e.s.Thin; r <= e.s.Full; r++ {
		v := &j.at[i][r]
		cost := j.times * j.own(e, i, r)
		for _, n := range j.around(i, len(j.ladders)) {
			if n.after {
				cost += e.stepTotal(v, &n.at[r])
			} else {
				cost += e.stepTotal(&n.at[r], v)
			}
		}
		sum += e.s.RungWeight[r] * cost
	}
	return sum
}

func (j *joint) own(e *Engine, i, r int) float64 {
	t := e.s.tonality(j.lattices[i].chord, j.lattices[i].key)
	return e.own(&j.at[i][r].Voicing, &t).Total
}

// price is what the choice under way costs.
func (j *joint) price(e *Engine) (sum float64) {
	for r := e.s.Thin; r <= e.s.Full; r++ {
		sum += e.s.RungWeight[r] * j.priceAt(e, r)
	}
	return sum
}

// priceAt is what it costs at r voices.
func (j *joint) priceAt(e *Engine, r int) (sum float64) {
	for i := range j.ladders {
		sum += j.times * j.own(e, i, r)
	}
	for _, edge := range j.edges {
		sum += e.stepTotal(&j.at[edge[0]][r], &j.at[edge[1]][r])
	}
	if j.enter >= 0 {
		sum += e.stepTotal(&j.from[r], &j.at[j.enter][r])
	}
	return sum
}

// proof gives the working memory for one depth of branching.
func (j *joint) proof(depth int) *proof {
	if depth == len(j.proofs) {
		j.proofs = append(j.proofs, new(proof))
	}
	return j.proofs[depth]
}

// close closes in on the best choice from below and above until they meet, and
// reports whether they did. Where they stand still, one node's voicings are tried
// one by one.
func (j *joint) close(e *Engine, p *proof, depth int) bool {
	const patience = 3
	for still := 0; still < patience; {
		was, gap, size := p.floor, j.cost-p.floor, p.size()
		p.pass()
		j.room -= 8 * size
		j.try(e, p)
		if p.bound(j.cost - slack); p.empty {
			return true
		}
		if j.room <= 0 {
			return false
		}
		if still++; p.floor-was > gap/8 {
			still = 0
		}
	}
	n := p.branch()
	if n < 0 { // one choice is left, and it was tried
		return true
	}
	for v := range p.nodes[n].voicings {
		q := j.proof(depth + 1)
		q.copy(p)
		j.room -= q.size()
		q.only(n, v)
		if !q.empty && !j.close(e, q, depth+1) {
			return false
		}
	}
	return true
}

// try rounds the shares of p to a choice of ladders, improves it, and keeps it
// if it is the best yet.
func (j *joint) try(e *Engine, p *proof) {
	j.tries++
	if !p.round(e, j, j.tries%len(j.lattices)) {
		return
	}
	if cost := j.descend(e); cost < j.cost-slack {
		j.cost = cost
		copy(j.best, j.ladders)
	}
}
