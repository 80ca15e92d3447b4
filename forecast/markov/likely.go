package markov

// What is thought of a length at one pace, where it is not known for certain, is a
// row of n + n² + 1 numbers. Its parts, of shares s_k, are each in state i with a
// probability α_ki; the row has the mean shares, their second moments, and what is
// in the last state for certain:
//
//	x_i = Σ_k s_k α_ki,   M_ij = Σ_k s_k α_ki α_kj,   the share in the last state
//
// Rows of lengths add up by length. A part is in state j after P with a
// probability of (α_k P)_j, so that the share in j has
//
//	μ = Σ_i x_i P_ij,   v = ( μ − Σ_il P_ij M_il P_lj ) / w
//
// which is the variance of markov.ShareBand where every α is 0 or 1.

// LikelyWidth is the length of such a row for n states.
func LikelyWidth(n int) int { return n + n*n + 1 }

// Certainly writes to row what is known for certain: it has these shares.
func Certainly(row, shares []float64) {
	n := len(shares)
	clear(row)
	for i, s := range shares {
		row[i], row[n+i*n+i] = s, s
	}
	row[n+n*n] = shares[n-1]
}

// addLikely adds a part of a share to row.
func addLikely(row []float64, share float64, alpha []float64) {
	n := len(alpha)
	for i, a := range alpha {
		row[i] += share * a
		for j, b := range alpha {
			row[n+i*n+j] += share * a * b
		}
	}
}

// doubt is μ − w·v of a state: Σ_il P_ij M_il P_lj.
func doubt(second, p []float64, n, j int) float64 {
	sum := 0.0
	for i := range n {
		row := 0.0
		for l := range n {
			row += second[i*n+l] * p[l*n+j]
		}
		sum += p[i*n+j] * row
	}
	return sum
}

// Age moves rows, one for each pace, to so many years later.
func (p Pace) Age(rows []float64, c Chain, years float64) {
	n := c.states
	wide := LikelyWidth(n)
	var prob, half [MaxStates * MaxStates]float64
	var after [MaxStates]float64
	for g, z := range p.Z {
		row := rows[g*wide : (g+1)*wide]
		c.P(prob[:n*n], z*years)
		ShareAfter(after[:n], row[:n], prob[:n*n])
		copy(row, after[:n])
		second := row[n : n+n*n]
		for i := range n { // Pᵀ M P, of which M is symmetric
			ShareAfter(half[i*n:(i+1)*n], second[i*n:(i+1)*n], prob[:n*n])
		}
		for j := range n {
			for l := range n {
				sum := 0.0
				for i := range n {
					sum += prob[i*n+j] * half[i*n+l]
				}
				second[j*n+l] = sum
			}
		}
	}
}
