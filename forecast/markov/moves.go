package markov

import (
	"fmt"
	"strconv"
	"strings"
)

// MaxStates is the largest number of states of a chain.
const MaxStates = 8

// Move is an allowed change from one state straight to another, numbered from
// 0.
type Move struct{ From, To int }

// Moves lists the allowed moves of a chain. The order is that of the rates.
type Moves []Move

// Worsening returns the moves from each of n states to the next worse one, in
// order: the default for a seal, which does not heal.
func Worsening(n int) Moves {
	moves := make(Moves, 0, n-1)
	for i := range n - 1 {
		moves = append(moves, Move{i, i + 1})
	}
	return moves
}

// ParseMoves reads moves as people write them, numbered from 1 and separated
// by commas: "1-2,2-3,3-4".
func ParseMoves(text string) (Moves, error) {
	var moves Moves
	for _, part := range strings.Split(text, ",") {
		from, to, ok := strings.Cut(strings.TrimSpace(part), "-")
		i, err1 := strconv.Atoi(from)
		j, err2 := strconv.Atoi(to)
		if !ok || err1 != nil || err2 != nil {
			return nil, fmt.Errorf("%w move %q: write moves as 1-2,2-3", ErrInvalid, part)
		}
		moves = append(moves, Move{i - 1, j - 1})
	}
	return moves, moves.check()
}

// String writes the moves numbered from 1, as ParseMoves reads them.
func (m Moves) String() string {
	parts := make([]string, len(m))
	for i, v := range m {
		parts[i] = v.String()
	}
	return strings.Join(parts, ",")
}

// String writes the move numbered from 1.
func (v Move) String() string { return fmt.Sprintf("%d-%d", v.From+1, v.To+1) }

// States is the number of states that the moves join.
func (m Moves) States() int {
	n := 0
	for _, v := range m {
		n = max(n, v.From+1, v.To+1)
	}
	return n
}

// OneWay reports whether every move is to a worse state, so that condition
// never improves by itself.
func (m Moves) OneWay() bool {
	for _, v := range m {
		if v.To < v.From {
			return false
		}
	}
	return true
}

// Absorbing reports whether no move leaves the state.
func (m Moves) Absorbing(state int) bool {
	for _, v := range m {
		if v.From == state {
			return false
		}
	}
	return true
}

// reach tells for each pair of states, row by row, whether moves lead from the
// one to the other; every state reaches itself.
func (m Moves) reach() []bool {
	n := m.States()
	r := make([]bool, n*n)
	for i := range n {
		r[i*n+i] = true
	}
	for range n {
		for _, v := range m {
			for i := range n {
				r[i*n+v.To] = r[i*n+v.To] || r[i*n+v.From]
			}
		}
	}
	return r
}

func (m Moves) check() error {
	if len(m) == 0 {
		return fmt.Errorf("%w moves: none given", ErrInvalid)
	}
	seen := map[Move]bool{}
	for _, v := range m {
		switch {
		case v.From < 0 || v.To < 0 || v.From >= MaxStates || v.To >= MaxStates:
			return fmt.Errorf("%w move %v: states are 1 to %d", ErrInvalid, v, MaxStates)
		case v.From == v.To:
			return fmt.Errorf("%w move %v: it leads nowhere", ErrInvalid, v)
		case seen[v]:
			return fmt.Errorf("%w move %v: given twice", ErrInvalid, v)
		}
		seen[v] = true
	}
	return nil
}
