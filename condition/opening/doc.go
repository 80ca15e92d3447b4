// Package opening answers whether the seal of a bridge deck joint still fits
// its gap: what the joint opens and closes by theory, what its readings say,
// how far the seal will be stretched on the coldest deck and crushed on the
// hottest, now and in later years, and which size would fit.
//
// It serves the inspector, who enters a tape reading and a temperature and
// wants the verdict; the planner, who picks a seal size; the crew, who want
// the opening to expect on the day; and the forecast, which joins the chance
// of leaving the seal's range to that of deterioration.
//
// The steps are: Measurement or Pool to make Readings; Fit for the Line;
// Line.Judge for the Check, Check.Words for the sentence; Line.Choose for a
// seal; Line.OutByYear for the forecast; CheckAll for a network.
//
// Openings and movements are in inches square to the joint line, lengths in
// feet, temperatures in °F, times in decimal years. A verdict here is never
// that a joint is safe: that is for a licensed engineer.
//
// All functions are pure, and values may be shared between goroutines that
// only read them. Results do not depend on the number of processors.
package opening
