package inventory

import (
	"cmp"
	"context"
	"slices"

	"github.com/paulmach/orb"
	"github.com/uptrace/bun"

	"reseal/geo"
)

// NearJoint is a joint and how far it is from a place.
type NearJoint struct {
	JointRow
	DistanceFt float64 `json:"distance_ft"`
}

// Nearest returns up to n joints in service, the nearest to a place first, none
// farther than 100,000 ft. The distance is to the middle of the joint.
func Nearest(ctx context.Context, db bun.IDB, p orb.Point, n int) ([]NearJoint, error) {
	var out []NearJoint
	for _, within := range [...]float64{300, 2000, 15000, 100000} { // ever wider circles
		out = out[:0]
		err := EachJoint(ctx, db, Filter{Near: &p, WithinFt: within}, func(j *JointRow) error {
			out = append(out, NearJoint{*j, geo.DistanceFt(p, j.Geom.Bound().Center())})
			return nil
		})
		if err != nil {
			return nil, err
		}
		if len(out) >= n {
			break
		}
	}
	slices.SortStableFunc(out, func(a, b NearJoint) int { return cmp.Compare(a.DistanceFt, b.DistanceFt) })
	return out[:min(n, len(out))], nil
}
