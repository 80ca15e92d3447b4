// Package life fits the life of seals to dates: when they were installed, and
// when they failed, were found failed, or were last seen in service.
//
// It is for an agency that has installation and removal dates but few
// inspections between them. [Weibull] is the usual choice; [Lognormal] and
// [Exponential] are there to compare it with. For joints that are resealed again
// and again, [MeanCumulative] counts replacements per joint without assuming any
// distribution.
//
// Lives may be in any unit of time, years as a rule, the same throughout. Nothing
// here holds state: every function is safe for concurrent use as long as its
// arguments are not changed meanwhile.
package life
