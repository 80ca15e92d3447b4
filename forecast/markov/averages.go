package markov

import "math"

// averages are a joint's curves averaged over its paces at nodes of time, each
// worked out when a year first needs it. The years rise, so what is kept of them
// is one run of nodes.
type averages struct {
	o  *Outlook
	of *Projection
	failing
	weights     []float64
	from, to    int // paces that have weight
	wide        int
	first, done int // nodes of time that are done: from first on, so many
}

// year writes the averages at a year, with its logarithm, to row.
func (a *averages) year(row []float64, year, logYear float64) {
	o := a.o
	if !(year > 0) {
		a.now(row)
		return
	}
	x, below := o.place(logYear)
	if below {
		a.belowFirst(row, year)
		return
	}
	k := int(math.Floor(x)) - 1
	w0, w1, w2, w3 := lagrange(x - float64(k+1))
	if a.done == 0 {
		a.first = k
		a.of.means = a.of.means[:0]
	}
	for a.first+a.done < k+4 {
		a.of.means = append(a.of.means, row...)
		a.at(a.of.means[a.done*a.wide:], a.first+a.done)
		a.done++
	}
	m := a.of.means[(k-a.first)*a.wide:]
	m0, m1, m2, m3 := m[:len(row)], m[a.wide:][:len(row)], m[2*a.wide:][:len(row)], m[3*a.wide:][:len(row)]
	for j := range row {
		row[j] = w0*m0[j] + w1*m1[j] + w2*m2[j] + w3*m3[j]
	}
}

// at writes to dst the averages at a node of time: where the slowest pace is at
// this node of u.
func (a *averages) at(dst []float64, node int) {
	dst = dst[:a.wide]
	switch {
	case len(a.of.byPace) > 0:
		a.atByPace(dst, node)
		return
	case a.wide == 5 && node+a.from*a.o.apart >= 0: // four states without variance: nearly all
		a.atFive((*[5]float64)(dst), node)
		return
	}
	clear(dst)
	for g := a.from; g < a.to; g++ {
		w := a.weights[g]
		k, part := a.o.node(node + g*a.o.apart)
		if part < 1 {
			for j, x := range a.curve(0) {
				dst[j] += w * (1 - part) * x
			}
			w *= part
		}
		for j, x := range a.curve(k) {
			dst[j] += w * x
		}
	}
}

// atFive is at for five curves where no pace is before the first node: the sums
// stay in registers, which halves the time.
func (a *averages) atFive(dst *[5]float64, node int) {
	var failed, s1, s2, s3, s4 float64
	last := len(a.o.nodes) - 1
	k := 1 + node + a.from*a.o.apart
	for _, w := range a.weights[a.from:a.to] {
		x := (*[5]float64)(a.curve(min(k, last)))
		failed += w * x[0]
		s1 += w * x[1]
		s2 += w * x[2]
		s3 += w * x[3]
		s4 += w * x[4]
		k += a.o.apart
	}
	*dst = [5]float64{failed, s1, s2, s3, s4}
}

// belowFirst is year where every pace lies below the first node.
func (a *averages) belowFirst(row []float64, year float64) {
	clear(row)
	if len(a.of.byPace) > 0 {
		for g := a.from; g < a.to; g++ {
			a.add(row, g, 1, a.o.pace.Z[g]*year/a.o.nodes[1])
		}
		return
	}
	zero, one := a.curve(0), a.curve(1)
	for g := a.from; g < a.to; g++ {
		part := a.o.pace.Z[g] * year / a.o.nodes[1]
		for j := range row {
			row[j] += a.weights[g] * ((1-part)*zero[j] + part*one[j])
		}
	}
}

// atByPace is at for shares that differ by pace: each curve is read once.
func (a *averages) atByPace(dst []float64, node int) {
	clear(dst)
	for g := a.from; g < a.to; g++ {
		k, part := a.o.node(node + g*a.o.apart)
		a.add(dst, g, k, part)
	}
}

// add adds to dst what a pace has, of shares of its own, a part of the way from
// node 0 to another.
func (a *averages) add(dst []float64, g, node int, part float64) {
	var room [2*MaxStates + 1]float64
	curve, w := room[:a.wide], a.weights[g]
	if part < 1 {
		a.o.curve(curve, &a.of.byPace[g], 0)
		for j, x := range curve {
			dst[j] += w * (1 - part) * x
		}
	}
	if part > 0 {
		a.o.curve(curve, &a.of.byPace[g], node)
		for j, x := range curve {
			dst[j] += w * part * x
		}
	}
}

// now is year on the day of the shares.
func (a *averages) now(row []float64) {
	if len(a.of.byPace) == 0 {
		copy(row, a.curve(0))
		return
	}
	clear(row)
	for g := a.from; g < a.to; g++ {
		a.add(row, g, 0, 1)
	}
}

// curve is what is averaged over paces, at one node: the probability of failure,
// the mean of each share, and the mean of its square.
func (a *averages) curve(node int) []float64 {
	if !a.of.used[node] {
		a.fill(node)
	}
	return a.of.curves[node*a.wide:][:a.wide]
}

func (a *averages) fill(node int) {
	a.of.used[node] = true
	a.o.curve(a.of.curves[node*a.wide:(node+1)*a.wide], &a.failing, node)
}

// curve writes to dst what averages.curve has of the shares of f.
func (o *Outlook) curve(dst []float64, f *failing, node int) {
	n := o.n
	p := o.p[node*n*n : (node+1)*n*n]
	dst[0] = f.probability(p)
	after := dst[1 : 1+n]
	ShareAfter(after, f.shares, p)
	if len(dst) == 1+n {
		return
	}
	squares := dst[1+n:]
	for j := range n {
		v := 0.0
		if f.second != nil {
			v = max(after[j]-doubt(f.second, p, n, j), 0)
		} else {
			for i, s := range f.shares {
				v += s * p[i*n+j] * (1 - p[i*n+j])
			}
		}
		squares[j] = after[j]*after[j] + v/max(o.rule.Pieces, 1)
	}
}
