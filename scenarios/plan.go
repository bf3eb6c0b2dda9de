package scenarios

import (
	"strings"

	"rollingboil/scenarios/measure"
)

// Stated is one value of a plan: what it means and how it was written. Known is
// false when the plan does not say.
type Stated[T any] struct {
	Value T
	Text  string
	Known bool
}

// slot is the place of one value of a plan: a *Stated of any type.
type slot interface {
	known() bool
	written() string
	take(from slot) // from is a slot of the same type
}

func (s *Stated[T]) known() bool { return s.Known }

func (s *Stated[T]) written() string { return s.Text }

func (s *Stated[T]) take(from slot) { *s = *from.(*Stated[T]) }

// Plan is what somebody intends to do, key by key as in the plan file. The zero
// Plan states nothing.
type Plan struct {
	File string // where it came from, for reports; may be empty

	Food, Pack, Method, Gauge, Jar Stated[string]
	GaugeTested                    Stated[string]

	Altitude  Stated[measure.Altitude]
	Time      Stated[measure.Duration]
	Pressure  Stated[measure.Pressure]
	Headspace Stated[measure.Length]

	AcidKind   Stated[string]
	AcidPerJar Stated[measure.Volume]
	PHReading  Stated[float64]
	PHBy       Stated[string]

	Produce, Prepared Stated[string]
	Added             Stated[[]string]

	JarsKind, JarsCondition Stated[string]
	Sterilised              Stated[bool]
	LidsKind, LidsState     Stated[string]
	Bands                   Stated[string]
	BubblesRemoved          Stated[bool]
	RimsWiped               Stated[bool]

	LoadSizes       Stated[string]
	LoadLayers      Stated[float64]
	WaterOverLids   Stated[measure.Length]
	WaterKept       Stated[bool]
	CannerOpened    Stated[bool]
	TimingStarts    Stated[string]
	BoilInterrupted Stated[string]
	Vent, Rest      Stated[measure.Duration]

	CoolingHours            Stated[float64]
	CoolingUndisturbed      Stated[bool]
	CoolingForced           Stated[bool]
	CoolingBandsRetightened Stated[bool]
	CoolingInverted         Stated[bool]
	LostLiquid              Stated[string]
	Opening                 Stated[[]string]
	SealChecks              Stated[[]string]
	Unsealed                Stated[string]
	UnsealedWithin          Stated[measure.Duration]
	StorageBandsOff         Stated[bool]
	StorageTemperature      Stated[measure.Temperature]
	StorageMonths           Stated[float64]
}

// slot gives the place of one key's value: a pointer to the Stated field that
// the dotted name stands for, or nil for a name that is no key.
func (p *Plan) slot(name string) slot {
	switch name {
	case "food":
		return &p.Food
	case "pack":
		return &p.Pack
	case "method":
		return &p.Method
	case "gauge":
		return &p.Gauge
	case "gauge_tested":
		return &p.GaugeTested
	case "jar":
		return &p.Jar
	case "altitude":
		return &p.Altitude
	case "time":
		return &p.Time
	case "pressure":
		return &p.Pressure
	case "headspace":
		return &p.Headspace
	case "acid.kind":
		return &p.AcidKind
	case "acid.per_jar":
		return &p.AcidPerJar
	case "ph.reading":
		return &p.PHReading
	case "ph.by":
		return &p.PHBy
	case "produce":
		return &p.Produce
	case "prepared":
		return &p.Prepared
	case "added":
		return &p.Added
	case "jars.kind":
		return &p.JarsKind
	case "jars.condition":
		return &p.JarsCondition
	case "sterilised":
		return &p.Sterilised
	case "lids.kind":
		return &p.LidsKind
	case "lids.state":
		return &p.LidsState
	case "bands":
		return &p.Bands
	case "bubbles_removed":
		return &p.BubblesRemoved
	case "rims_wiped":
		return &p.RimsWiped
	case "load.sizes":
		return &p.LoadSizes
	case "load.layers":
		return &p.LoadLayers
	case "water_kept":
		return &p.WaterKept
	case "canner_opened":
		return &p.CannerOpened
	case "cooling.inverted":
		return &p.CoolingInverted
	case "lost_liquid":
		return &p.LostLiquid
	case "opening":
		return &p.Opening
	case "water_over_lids":
		return &p.WaterOverLids
	case "timing_starts":
		return &p.TimingStarts
	case "boil_interrupted":
		return &p.BoilInterrupted
	case "vent":
		return &p.Vent
	case "rest":
		return &p.Rest
	case "cooling.hours":
		return &p.CoolingHours
	case "cooling.undisturbed":
		return &p.CoolingUndisturbed
	case "cooling.forced":
		return &p.CoolingForced
	case "cooling.bands_retightened":
		return &p.CoolingBandsRetightened
	case "seal_checks":
		return &p.SealChecks
	case "unsealed":
		return &p.Unsealed
	case "unsealed_within":
		return &p.UnsealedWithin
	case "storage.bands_off":
		return &p.StorageBandsOff
	case "storage.temperature":
		return &p.StorageTemperature
	case "storage.months":
		return &p.StorageMonths
	}
	return nil
}

// Known reports whether the plan states the key, or, for the name of a group
// such as "cooling", any value of it.
func (p *Plan) Known(name string) bool {
	if s := p.slot(name); s != nil {
		return s.known()
	}
	for _, key := range groups[name] {
		if p.Known(key) {
			return true
		}
	}
	return false
}

// Text gives a key's value as it was written, "" when the plan does not state
// it. For the name of a group it joins what is stated of the group.
func (p *Plan) Text(name string) string {
	if s := p.slot(name); s != nil {
		return s.written()
	}
	var parts []string
	for _, key := range groups[name] {
		if p.Known(key) {
			parts = append(parts, p.Text(key))
		}
	}
	return strings.Join(parts, ", ")
}

// YAML writes the plan as a plan file: the stated keys, in the order of the
// format, each value as it was written. Reading the file again gives the plan.
func (p *Plan) YAML() []byte {
	var b strings.Builder
	group := ""
	for _, k := range keys {
		if !p.Known(k.Name) {
			continue
		}
		name, indent := k.Name, ""
		if g, leaf, nested := strings.Cut(k.Name, "."); nested {
			if g != group {
				b.WriteString(g + ":\n")
			}
			group, name, indent = g, leaf, "  "
		} else {
			group = ""
		}
		b.WriteString(indent + name + ": " + p.yamlValue(k.Name) + "\n")
	}
	return []byte(b.String())
}

// yamlValue writes a stated value as it stands in a plan file.
func (p *Plan) yamlValue(key string) string {
	switch s := p.slot(key).(type) {
	case *Stated[[]string]:
		return "[" + strings.Join(s.Value, ", ") + "]"
	case *Stated[bool], *Stated[float64]:
		return p.Text(key)
	}
	return quote(p.Text(key))
}

// quote writes a text as a YAML scalar, plain where that is unambiguous.
func quote(s string) string {
	plain := s != ""
	for _, r := range s {
		if !('a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' || '0' <= r && r <= '9' || strings.ContainsRune(" -/.", r)) {
			plain = false
		}
	}
	if plain && s[0] != '-' && s[0] != ' ' && s[0] != '.' && s[len(s)-1] != ' ' {
		return s
	}
	return `'` + strings.ReplaceAll(s, `'`, `''`) + `'`
}
