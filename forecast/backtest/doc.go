// Package backtest judges forecasts of failure that were made from what was
// known up to a day against what was seen later: scores, calibration, and in
// words where the model is better than its rivals and where it is not.
//
// It is for the planner who asks whether the forecast may be believed, and for
// the statistician who checks. It takes cases with the forecasts of all
// forecasters side by side, and knows nothing of where they come from; the
// scoring rules are those of package score.
//
// A Result is a value and may be read by many goroutines.
package backtest
