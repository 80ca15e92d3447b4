package condition

import (
	"context"
	"slices"

	"github.com/uptrace/bun"

	"reseal/condition/opening"
	"reseal/inventory"
)

// noiseJoints is how many joints the noise of readings is estimated from, at
// most: with three readings each the factor is then known to about 1.5 %.
const noiseJoints = 4000

// estimateNoise estimates the factor on the variance of readings from joints
// with two readings or more, spread evenly over the inventory.
func (r *GapRules) estimateNoise(ctx context.Context, db bun.IDB, asOf inventory.Date) (opening.NoiseEstimate, error) {
	var ids []int64
	err := db.NewRaw("SELECT joint_id FROM readings WHERE read_on <= ? GROUP BY joint_id HAVING count(*) >= 2 ORDER BY joint_id", asOf).Scan(ctx, &ids)
	if err != nil {
		return opening.NoiseEstimate{}, err
	}
	if n := len(ids); n > noiseJoints {
		for i := range noiseJoints {
			ids[i] = ids[i*n/noiseJoints]
		}
		ids = ids[:noiseJoints]
	}
	var histories []opening.History
	for page := range slices.Chunk(ids, gapPage) {
		gaps, err := Gaps(ctx, db, r, page, asOf)
		if err != nil {
			return opening.NoiseEstimate{}, err
		}
		for i := range gaps {
			if gaps[i].Problem == "" {
				histories = append(histories, opening.History{Joint: gaps[i].Theory, Readings: gaps[i].Readings})
			}
		}
	}
	return opening.EstimateNoiseFactor(histories, r.Settings.Opening()), nil
}
