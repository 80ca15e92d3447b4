package forecast

// NewModelOfDraws is NewModel of a fit with so many draws of the parameters, over
// which every joint's forecast is averaged, however well the rates are known.
func NewModelOfDraws(t *Tables, count int) (*Model, error) {
	m, err := newFitted(t, count)
	if err == nil {
		m.fitted.allUnsure = true
	}
	return m, err
}

// SurelyKnown tells whether the forecast rests on the estimates alone.
func (f *Forecast) SurelyKnown() bool { return f.group.uncertainty <= surelyKnown }
