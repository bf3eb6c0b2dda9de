package scenarios

import (
	"slices"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// Facts is what the rules are told about one plan: plain values, looked up and
// compared in Go, so that no rule does arithmetic or holds a number. A value
// that may be unstated comes as a pair: minutes is only meaningful when
// time_known is true. Text for people comes from the methods.
type Facts struct {
	Food    string `expr:"food" doc:"id of the food"`
	Pack    string `expr:"pack" doc:"how the jars are filled"`
	Method  string `expr:"method" doc:"how the jars are heated"`
	Gauge   string `expr:"gauge" doc:"the pressure canner's gauge"`
	Jar     string `expr:"jar" doc:"size of the jar"`
	Acidity string `expr:"acidity" doc:"acidity class of the food's card; empty when the food is not stated"`

	LowAcid       bool `expr:"low_acid" doc:"the food is low-acid: pressure is the only tested method"`
	TomatoFood    bool `expr:"tomato_food" doc:"the food is made of tomatoes or tomatillos"`
	PeachFood     bool `expr:"peach_food" doc:"the food is made of peaches or nectarines, or may be"`
	SpreadFood    bool `expr:"spread_food" doc:"the food is a jam, jelly or other spread of Guide 7"`
	LiquidFood    bool `expr:"liquid_food" doc:"no bubbles to free: juice, stock, jam or jelly"`
	AcidPerJar    bool `expr:"acid_per_jar" doc:"the card gives a dose of acid for each jar"`
	AcidInRecipe  bool `expr:"acid_in_recipe" doc:"the acid is part of the tested recipe"`
	ShortForJars  bool `expr:"short_for_jars" doc:"the food is one whose jars are sterilized when the planned time is under ten minutes, and it is"`
	JamUphill     bool `expr:"jam_uphill" doc:"the row is one of jam or jelly above the lowest band, printed for jars that were boiled first"`
	AcidFoodClass bool `expr:"acid_food" doc:"the food is canned as an acid food, whether by nature or by added acid"`

	FoodUntested bool `expr:"food_untested" doc:"the food is one of those that have no tested home process at all"`

	ProcessFound  bool `expr:"process_found" doc:"the table has a row for food, pack, method, gauge, jar and altitude"`
	FromMemory    bool `expr:"from_memory" doc:"every row found is only from memory"`
	OneCopy       bool `expr:"one_copy" doc:"the row found was read in one copy, or was legible in one of two readings"`
	MethodMissing bool `expr:"method_untested" doc:"the table has no row for this food with this method"`
	PackMissing   bool `expr:"pack_untested" doc:"the table has no row for this pack"`
	JarTooLarge   bool `expr:"jar_too_large" doc:"the jar is larger than any listed"`
	TooHigh       bool `expr:"altitude_above_table" doc:"the altitude is above the last band with a printed limit"`
	SmallerJar    bool `expr:"smaller_jar" doc:"the jar is smaller than listed, so the next larger listed jar's row is used"`

	TimeKnown       bool    `expr:"time_known" doc:"the plan states a time"`
	Minutes         float64 `expr:"minutes" doc:"planned time, minutes"`
	RequiredMinutes float64 `expr:"required_minutes" doc:"tested time, minutes"`
	SteamLongest    float64 `expr:"steam_longest" doc:"longest process in an atmospheric steam canner, minutes, altitude included"`

	PressureKnown bool    `expr:"pressure_known" doc:"the plan states a pressure"`
	PSI           float64 `expr:"psi" doc:"planned pressure, psi gauge"`
	PressureLow   bool    `expr:"pressure_low" doc:"the pressure is below every tested alternative"`
	AboveCeiling  bool    `expr:"above_psi_ceiling" doc:"the pressure is above what home canners are run at"`

	HeadspaceUnlike  bool `expr:"headspace_unlike" doc:"the row prints no headspace, and this is less or more than any that is printed for fruit in boiling water"`
	HeadspacePrinted bool `expr:"headspace_printed" doc:"the row prints a headspace"`
	HeadspaceLow     bool `expr:"headspace_low" doc:"less headspace than tested"`
	HeadspaceHigh    bool `expr:"headspace_high" doc:"more headspace than tested"`

	AcidKind        string `expr:"acid_kind" doc:"the acid to be added; empty when not stated"`
	AcidDosePrinted bool   `expr:"acid_dose_printed" doc:"the card prints a dose of this acid for this jar"`
	AcidShort       bool   `expr:"acid_short" doc:"some acid, but less than the printed dose"`
	NoAcid          bool   `expr:"no_acid" doc:"the plan says that no acid goes in, or none of it into a jar"`
	AcidOverJar     bool   `expr:"acid_over_jar" doc:"more acid for each jar than the jar holds"`
	AcidByJar       bool   `expr:"acid_by_jar" doc:"an acid that the tested recipe may have is stated by the jar"`
	AcidNotRecipes  bool   `expr:"acid_not_recipes" doc:"the acid is neither that of the tested recipe nor, in a salsa, bottled juice in place of its vinegar"`
	RecipeAcidKnown bool   `expr:"recipe_acid_known" doc:"it was read which acid the tested recipe has"`

	PHKnown     bool   `expr:"ph_known" doc:"the plan states a pH reading"`
	PHBy        string `expr:"ph_by" doc:"how the pH was read"`
	PHAboveLine bool   `expr:"ph_above_line" doc:"the reading is above the line between acid and low-acid food"`

	Produce          string   `expr:"produce" doc:"state of the produce"`
	ProduceOut       bool     `expr:"produce_out" doc:"the card says that produce in this state is out for this food"`
	Prepared         string   `expr:"prepared" doc:"how the produce is prepared"`
	PreparedUntested bool     `expr:"prepared_untested" doc:"the directions limit how it is prepared, or were not read, and this is not among them"`
	PureedUntested   bool     `expr:"pureed_untested" doc:"the food is low-acid and puréed, which its directions do not ask for"`
	SkinsLeft        bool     `expr:"skins_left" doc:"the directions take the skins off, and the plan leaves them on or in"`
	Added            []string `expr:"added" doc:"what goes in beyond the tested directions"`

	JarsKind      string `expr:"jars_kind" doc:"what the jars were made for"`
	JarsCondition string `expr:"jars_condition" doc:"state of the jars"`
	Sterilised    bool   `expr:"sterilised" doc:"the jars are boiled first; meaningful with sterilised_known"`
	SterilKnown   bool   `expr:"sterilised_known" doc:"the plan says whether the jars are boiled first"`
	LidsKind      string `expr:"lids_kind" doc:"kind of lid"`
	LidsState     string `expr:"lids_state" doc:"state of the lids"`
	Bands         string `expr:"bands" doc:"how the bands are turned down"`

	BubblesLeft bool `expr:"bubbles_left" doc:"the plan says the bubbles stay in"`
	RimsUnwiped bool `expr:"rims_unwiped" doc:"the plan says the rims are not wiped"`

	WaterIn      float64 `expr:"water_in" doc:"water over the lids, inches"`
	WaterLow     bool    `expr:"water_low" doc:"less water than any boiling-water process has over the lids"`
	WaterShallow bool    `expr:"water_shallow" doc:"enough to cover, but less than a long process asks for"`

	TimingStarts    string `expr:"timing_starts" doc:"when the clock is started"`
	TimingEarly     bool   `expr:"timing_early" doc:"the clock is started before this method's tested moment"`
	BoilInterrupted string `expr:"boil_interrupted" doc:"what is done if the boil or the pressure drops"`
	VentShort       bool   `expr:"vent_short" doc:"vented for less than the tested time"`
	RestShort       bool   `expr:"rest_short" doc:"jars lifted, or the canner opened, sooner than tested"`

	CoolingShort     bool `expr:"cooling_short" doc:"left alone for less than the tested hours"`
	CoolingDisturbed bool `expr:"cooling_disturbed" doc:"the plan says the jars are moved or stand in a draft"`
	CoolingForced    bool `expr:"cooling_forced" doc:"the plan says cooling is forced"`
	BandsRetightened bool `expr:"bands_retightened" doc:"the plan says the bands are turned down again on hot jars"`

	SealChecksKnown bool     `expr:"seal_checks_known" doc:"the plan says how seals are checked"`
	SealChecks      []string `expr:"seal_checks" doc:"how seals are checked"`
	SealTapAlone    bool     `expr:"seal_tap_alone" doc:"the tap is the only check"`
	SealNoGuideTest bool     `expr:"seal_no_guide_test" doc:"none of the guide's three checks is among them"`
	Unsealed        string   `expr:"unsealed" doc:"what is done with an unsealed jar"`
	UnsealedLate    bool     `expr:"unsealed_late" doc:"an unsealed jar waits longer than the guide allows"`

	BandsStay   bool `expr:"bands_stay" doc:"the plan says the bands stay on in storage"`
	StorageHot  bool `expr:"storage_hot" doc:"stored hotter than any jar may be"`
	StorageWarm bool `expr:"storage_warm" doc:"stored warmer than is best, but not hot"`
	StorageLong bool `expr:"storage_long" doc:"stored longer than is advised"`

	GaugeTested   string   `expr:"gauge_tested" doc:"when the dial gauge was last tested"`
	MixedLoad     bool     `expr:"mixed_load" doc:"jars of several sizes in one load"`
	StackedJars   bool     `expr:"stacked_jars" doc:"jars in more than one layer"`
	WaterRunsLow  bool     `expr:"water_runs_low" doc:"the plan says the water is not kept over the lids"`
	CannerOpened  bool     `expr:"canner_opened" doc:"the canner is opened during the process"`
	JarsInverted  bool     `expr:"jars_inverted" doc:"the jars are turned upside down after the canner"`
	LostLiquid    string   `expr:"lost_liquid" doc:"what is done with a jar that lost liquid"`
	Opening       []string `expr:"opening" doc:"how a jar is judged when it is opened"`
	SealPingAlone bool     `expr:"seal_ping_alone" doc:"the ping of the lid is the only check"`

	HeldKnown       bool    `expr:"held_known" doc:"batch: the record gives the clock times"`
	Held            float64 `expr:"held" doc:"batch: longest unbroken stretch at the boil or at pressure, minutes"`
	HeldShort       bool    `expr:"held_short" doc:"batch: that stretch is shorter than the tested time"`
	Interrupted     bool    `expr:"interrupted" doc:"batch: the boil or the pressure was lost"`
	UnsealedOnShelf bool    `expr:"unsealed_on_shelf" doc:"batch: an unsealed jar was put on the shelf"`
	UnsealedKept    bool    `expr:"unsealed_kept" doc:"batch: a jar found unsealed after a day was kept"`
	HalfLostOnShelf bool    `expr:"half_lost_on_shelf" doc:"batch: a jar that lost half its liquid or more was put on the shelf"`
	SuspectKept     bool    `expr:"suspect_kept" doc:"batch: a jar that shows a sign of spoilage was kept"`
	CheckedEarly    bool    `expr:"checked_early" doc:"batch: a seal was judged before the tested hours"`
	SealUnknown     bool    `expr:"seal_unknown" doc:"batch: a jar's seal was not recorded"`
	SomeSeparated   bool    `expr:"some_separated" doc:"batch: a jar shows a watery layer"`
	SomeLiquidLost  bool    `expr:"some_liquid_lost" doc:"batch: a jar lost some liquid, less than half"`

	plan     *Plan
	card     process.Card
	salsa    bool             // the rules for salsas hold for the food
	row      process.Row      // the row the plan is compared with
	untested process.Untested // set with FoodUntested
	like     process.Card     // the tested food that an untested one resembles, if any
}

// factWords lists the words a fact may hold, for the rules' own checks.
func factWords() map[string][]string {
	return map[string][]string{
		"pack": packs, "method": methods, "gauge": gauges, "jar": jarIDs(),
		"acidity":   {"acid", "acidified", "borderline", "pickled", "low-acid"},
		"acid_kind": acidKinds, "ph_by": phBy, "produce": produce, "prepared": prepared, "added": added,
		"jars_kind": jarKinds, "jars_condition": jarStates, "lids_kind": lidKinds, "lids_state": lidStates,
		"bands": bands, "timing_starts": timingFrom, "boil_interrupted": interrupted,
		"seal_checks": sealChecks, "unsealed": unsealed, "gauge_tested": gaugeTested, "lost_liquid": lostLiquid, "opening": openingBy,
	}
}

// factFields lists the fields a finding may name: the plan's keys and groups.
func factFields() []string {
	fields := append(namesUnder(""), "record.finished", "record.interruptions", "record.jars")
	for _, k := range keys {
		if strings.Contains(k.Name, ".") {
			fields = append(fields, k.Name)
		}
	}
	return fields
}

// factsOf lays out what a plan and the look-up say. found is the look-up's
// answer, zero when the plan does not state enough to look anything up.
func (g *Grader) factsOf(p *Plan, found process.Result, looked bool) Facts {
	card, tested := g.table.Card(p.Food.Value)
	f := Facts{
		Food: p.Food.Value, Pack: p.Pack.Value, Method: p.Method.Value, Gauge: p.Gauge.Value, Jar: p.Jar.Value,
		Acidity: card.Acidity, LowAcid: card.Acidity == "low-acid",
		AcidFoodClass: tested && card.Acidity != "low-acid",
		AcidPerJar:    card.AcidIn == "jar", AcidInRecipe: card.AcidIn == "recipe",
		SteamLongest: steamLongestMin,
		plan:         p, card: card,
	}
	f.untested, f.FoodUntested = g.table.Untested(p.Food.Value)
	f.like, _ = g.table.Card(f.untested.Like)
	kind := g.kinds[p.Food.Value]
	f.TomatoFood, f.PeachFood, f.SpreadFood, f.LiquidFood = kind.tomato, kind.peach, kind.spread, kind.liquid
	f.salsa = kind.salsa

	if looked {
		f.lookup(found)
	}
	f.heating(p)
	f.filling(p, card)
	f.keeping(p)
	return f
}

func (f *Facts) lookup(found process.Result) {
	f.ProcessFound = len(found.Rows) > 0
	f.MethodMissing = found.Gap == process.GapMethod || found.Gap == process.GapFood
	f.PackMissing = found.Gap == process.GapPack
	f.JarTooLarge = found.Gap == process.GapJar
	f.TooHigh = found.Gap == process.GapAltitude
	f.SmallerJar = found.SmallerJar
	if !f.ProcessFound {
		return
	}
	f.row = closestRow(f.plan, found.Rows)
	f.FromMemory = f.row.FromMemory()
	f.OneCopy = !f.FromMemory && f.row.Confidence != "guide-2015"
	f.RequiredMinutes = float64(f.row.Minutes)
	f.HeadspacePrinted = f.row.HeadspaceIn > 0
}

// closestRow picks, among the alternatives of a pressure table, the row to hold
// the plan against: the highest pressure the plan reaches, since that asks for
// the least time; when it reaches none, the lowest. A plan that states a time and
// no pressure is held against the lowest pressure for which that time is enough.
func closestRow(p *Plan, rows []process.Row) process.Row {
	if !p.Pressure.Known && p.Time.Known {
		for _, r := range rows {
			if float64(r.Minutes) <= float64(p.Time.Value)+timeToleranceMin {
				return r
			}
		}
		return rows[len(rows)-1]
	}
	best := rows[0]
	for _, r := range rows[1:] {
		if float64(r.PSI) <= float64(p.Pressure.Value)+pressureToleranceLb && r.PSI >= best.PSI {
			best = r
		}
	}
	return best
}

func (f *Facts) heating(p *Plan) {
	f.TimeKnown, f.Minutes = p.Time.Known, float64(p.Time.Value)
	pressureCanner := f.Method == "pressure"
	if pressureCanner {
		f.PressureKnown, f.PSI = p.Pressure.Known, float64(p.Pressure.Value)
		f.PressureLow = f.PressureKnown && f.ProcessFound && f.PSI < float64(f.row.PSI)-pressureToleranceLb
		f.AboveCeiling = f.PressureKnown && f.PSI > psiCeiling+pressureToleranceLb
		f.VentShort = p.Vent.Known && float64(p.Vent.Value) < ventNeededMin-timeToleranceMin
	}
	if f.Method == "boiling-water" && p.WaterOverLids.Known {
		f.WaterIn = float64(p.WaterOverLids.Value)
		f.WaterLow = f.WaterIn < waterLeastIn-lengthToleranceIn
		long := max(f.Minutes, f.RequiredMinutes) > waterLongFromMin
		f.WaterShallow = !f.WaterLow && long && f.WaterIn < waterLongIn-lengthToleranceIn
	}
	f.TimingStarts = p.TimingStarts.Value
	if start := startOf(f.Method); start != "" && p.TimingStarts.Known {
		f.TimingEarly = p.TimingStarts.Value != start
	}
	f.BoilInterrupted = p.BoilInterrupted.Value
	f.GaugeTested = p.GaugeTested.Value
	f.MixedLoad, f.StackedJars = p.LoadSizes.Value == "mixed", p.LoadLayers.Known && p.LoadLayers.Value > 1
	f.WaterRunsLow = p.WaterKept.Known && !p.WaterKept.Value && f.Method == "boiling-water"
	f.CannerOpened = p.CannerOpened.Value
	f.RestShort = p.Rest.Known && float64(p.Rest.Value) < restNeeded(f.Method)-timeToleranceMin
	f.CoolingShort = p.CoolingHours.Known && p.CoolingHours.Value < coolingLeastH
	f.CoolingDisturbed = p.CoolingUndisturbed.Known && !p.CoolingUndisturbed.Value
	f.CoolingForced = p.CoolingForced.Value
	f.BandsRetightened = p.CoolingBandsRetightened.Value
}

// startOf names the moment at which a method's time starts, "" for a method
// that has no tested process.
func startOf(method string) string {
	switch method {
	case "boiling-water":
		return "full-boil"
	case "atmospheric-steam":
		return "steady-steam"
	case "pressure":
		return "pressure-reached"
	}
	return ""
}

func restNeeded(method string) float64 {
	if method == "pressure" {
		return restPressureMin
	}
	return restBoilingMin
}

func (f *Facts) filling(p *Plan, card process.Card) {
	in := float64(p.Headspace.Value)
	f.HeadspaceUnlike = p.Headspace.Known && f.ProcessFound && !f.HeadspacePrinted &&
		(in < headspaceLeastIn-lengthToleranceIn || in > headspaceMostIn+lengthToleranceIn)
	if p.Headspace.Known && f.HeadspacePrinted {
		gap := in - f.row.HeadspaceIn
		f.HeadspaceLow, f.HeadspaceHigh = gap < -lengthToleranceIn, gap > lengthToleranceIn
	}

	f.acid(p, card)
	f.PHKnown, f.PHBy = p.PHReading.Known || p.PHBy.Known, p.PHBy.Value
	f.PHAboveLine = p.PHReading.Known && p.PHReading.Value > phLimit

	f.Produce, f.Prepared, f.Added = p.Produce.Value, p.Prepared.Value, p.Added.Value
	f.ProduceOut = slices.Contains(card.ProduceOut, p.Produce.Value)
	f.prepared(card)

	f.JarsKind, f.JarsCondition = p.JarsKind.Value, p.JarsCondition.Value
	f.Sterilised, f.SterilKnown = p.Sterilised.Value, p.Sterilised.Known
	planned := f.Minutes
	if !f.TimeKnown {
		planned = f.RequiredMinutes
	}
	f.ShortForJars = card.Sterilise == "under-10" && (f.TimeKnown || f.ProcessFound) && planned < sterileUnderMin
	// Guide 7 fills boiled jars at every altitude (pp. 7-5 to 7-11), and what others
	// would need above the lowest band was read nowhere, not even for a longer time.
	f.JamUphill = f.SpreadFood && card.Sterilise == "under-10" && f.ProcessFound && f.row.FromFt > 0
	f.LidsKind, f.LidsState, f.Bands = p.LidsKind.Value, p.LidsState.Value, p.Bands.Value
	f.BubblesLeft = p.BubblesRemoved.Known && !p.BubblesRemoved.Value && !f.LiquidFood
	f.RimsUnwiped = p.RimsWiped.Known && !p.RimsWiped.Value
}

// prepared compares how a food is prepared with its directions. A purée heats far more
// slowly than pieces in liquid, so it needs directions that ask for one, also where
// these are not limited in the plan's words or were not read.
func (f *Facts) prepared(card process.Card) {
	if f.Prepared == "" || slices.Contains(card.Prepared, f.Prepared) {
		return
	}
	pureed := slices.Contains([]string{"mashed", "milled", "blended-unpeeled"}, f.Prepared)
	sieved := slices.Contains(card.Prepared, "milled") // such as spaghetti sauce
	f.PureedUntested = f.LowAcid && pureed && (f.Prepared == "mashed" || !sieved)
	f.PreparedUntested = len(card.Prepared) > 0 || pureed && card.Directions == "" && card.Food != ""
	peeled := sieved || slices.Contains(card.Prepared, "peeled")
	f.SkinsLeft = (f.Prepared == "unpeeled" || f.Prepared == "blended-unpeeled") && peeled && !slices.Contains(card.Prepared, "unpeeled")
}

func (f *Facts) acid(p *Plan, card process.Card) {
	f.AcidKind = p.AcidKind.Value
	amount := float64(p.AcidPerJar.Value)
	f.NoAcid = f.AcidKind == "none" || p.AcidPerJar.Known && amount == 0
	f.AcidOverJar = p.Jar.Known && amount > float64(process.TspIn(p.Jar.Value))
	if f.AcidPerJar {
		if tsp, ok := doseOf(card, p.Jar.Value, f.AcidKind); ok {
			f.AcidDosePrinted = true
			f.AcidShort = amount > 0 && amount < tsp*(1-volumeTolerance)
		}
	}
	f.RecipeAcidKnown = len(card.RecipeAcid) > 0
	f.AcidByJar = f.AcidInRecipe && amount > 0 && (f.AcidKind == "" || takesAcid(card, f.AcidKind, f.salsa))
	switch f.AcidKind { // the other kinds are wrong for any food
	case "bottled-lemon-juice", "citric-acid", "vinegar-5":
		f.AcidNotRecipes = f.AcidInRecipe && !takesAcid(card, f.AcidKind, f.salsa)
	}
}

// takesAcid reports whether an acid is one that the tested recipe may have: its own
// or, in a salsa, bottled lemon juice in place of the vinegar. Vinegar never takes the
// place of juice (USDA Guide 3, pp. 3-19 and 3-21).
func takesAcid(card process.Card, kind string, salsa bool) bool {
	return slices.Contains(card.RecipeAcid, kind) ||
		salsa && kind == "bottled-lemon-juice" && slices.Contains(card.RecipeAcid, "vinegar-5")
}

// doseOf gives the printed dose of one acid for one jar, in US teaspoons.
func doseOf(card process.Card, jar, kind string) (tsp float64, ok bool) {
	for _, d := range card.Dose(jar) {
		if d.Kind == kind {
			return d.Tsp, true
		}
	}
	return 0, false
}

func (f *Facts) keeping(p *Plan) {
	f.SealChecksKnown, f.SealChecks = p.SealChecks.Known, p.SealChecks.Value
	f.SealTapAlone = len(f.SealChecks) == 1 && f.SealChecks[0] == "tap"
	f.SealNoGuideTest = f.SealChecksKnown &&
		!slices.ContainsFunc(f.SealChecks, func(c string) bool { return c == "press" || c == "look" || c == "tap" })
	f.SealPingAlone = len(f.SealChecks) == 1 && f.SealChecks[0] == "ping"
	f.JarsInverted, f.LostLiquid, f.Opening = p.CoolingInverted.Value, p.LostLiquid.Value, p.Opening.Value
	f.Unsealed = p.Unsealed.Value
	f.UnsealedLate = p.UnsealedWithin.Known && float64(p.UnsealedWithin.Value) > unsealedLongestH*60+timeToleranceMin
	f.BandsStay = p.StorageBandsOff.Known && !p.StorageBandsOff.Value
	degrees := float64(p.StorageTemperature.Value)
	f.StorageHot = p.StorageTemperature.Known && degrees > storageHottestF+0.01
	f.StorageWarm = p.StorageTemperature.Known && !f.StorageHot && degrees > storageBestF+0.5
	f.StorageLong = p.StorageMonths.Known && p.StorageMonths.Value > storageMonths
}

// foodKind holds what the rules need to know of a food beyond its card.
type foodKind struct{ tomato, peach, spread, salsa, liquid bool }

func kindOf(c process.Card) foodKind {
	return foodKind{
		// Guide 3 is the guide of tomatoes; peach-apple salsa is printed in
		// Guide 2 and is mostly tomatoes.
		tomato: c.Guide == 3 && c.Food != "mango-salsa" || strings.HasPrefix(c.Food, "tomat") || c.Food == "peach-apple-salsa",
		// The plan does not say which fruit goes into a jam or a purée.
		peach: strings.Contains(c.Food, "peach") || strings.Contains(c.Food, "nectarine") ||
			slices.Contains([]string{"mixed-fruit-cocktail", "fruit-purees", "fruit-based-baby-food", "jam-no-added-pectin", "jelly-no-added-pectin", "jelly-jam-added-pectin"}, c.Food),
		spread: c.Guide == 7,
		// Guide 3 prints taco sauce among its salsas.
		salsa:  strings.Contains(c.Food, "salsa") || c.Food == "tomato-taco-sauce",
		liquid: c.Guide == 7 || strings.HasSuffix(c.Food, "-juice") && !strings.HasSuffix(c.Food, "-in-juice") || c.Food == "meat-stock",
	}
}

// FoodName is the food as the table names it.
func (f *Facts) FoodName() string {
	if f.FoodUntested {
		return f.untested.Name
	}
	return f.card.Name
}

// UntestedWhy says why an untested food has no process.
func (f *Facts) UntestedWhy() string { return f.untested.Why }

// LikeName is the tested food that an untested one resembles, "" for none.
func (f *Facts) LikeName() string { return f.like.Name }

// JarName is the planned jar in words, "quart".
func (f *Facts) JarName() string { return process.JarName(f.Jar) }

// ListedJarName is the jar whose row is used, in words.
func (f *Facts) ListedJarName() string { return process.JarName(f.row.Jar) }

// MethodName is the planned method in words.
func (f *Facts) MethodName() string { return Label(f.Method) }

// AltitudeText is the planned altitude in both units.
func (f *Facts) AltitudeText() string {
	if f.plan == nil {
		return ""
	}
	return f.plan.Altitude.Value.Both()
}

// Time is the planned time.
func (f *Facts) Time() string { return measure.Duration(f.Minutes).String() }

// RequiredTime is the tested time.
func (f *Facts) RequiredTime() string { return measure.Duration(f.RequiredMinutes).String() }

// Pressure is the planned pressure.
func (f *Facts) Pressure() string { return measure.Pressure(f.PSI).String() }

// RequiredPressure is the tested pressure.
func (f *Facts) RequiredPressure() string { return measure.Pressure(f.row.PSI).String() }

// Headspace is the planned headspace.
func (f *Facts) Headspace() string {
	if f.plan == nil {
		return ""
	}
	return f.plan.Headspace.Value.Both()
}

// RequiredHeadspace is the tested headspace, in both units.
func (f *Facts) RequiredHeadspace() string { return measure.Length(f.row.HeadspaceIn).Both() }

// FruitHeadspace is the range of what is printed for fruit in boiling water, in both
// units.
func (f *Facts) FruitHeadspace() string {
	return measure.Length(headspaceLeastIn).Both() + " to " + measure.Length(headspaceMostIn).Both()
}

// AcidName is the planned acid in words.
func (f *Facts) AcidName() string { return Label(f.AcidKind) }

// RequiredAcid is the printed dose of the planned acid for the planned jar, or
// every printed dose when the planned acid has none.
func (f *Facts) RequiredAcid() string {
	var all []string
	for _, d := range f.card.Dose(f.Jar) {
		text := measure.Volume(d.Tsp).String() + " " + Label(d.Kind)
		if d.Kind == f.AcidKind {
			return text
		}
		all = append(all, text)
	}
	return strings.Join(all, ", or ")
}

// RecipeAcid names the acids of the tested recipe.
func (f *Facts) RecipeAcid() string {
	var names []string
	for _, kind := range f.card.RecipeAcid {
		names = append(names, Label(kind))
	}
	if len(names) == 0 {
		return "the acid of the tested recipe"
	}
	return strings.Join(names, " and ")
}

// RequiredPrepared lists how the tested directions prepare the food.
func (f *Facts) RequiredPrepared() string {
	if len(f.card.Prepared) == 0 {
		return "as the tested recipe says"
	}
	return strings.Join(f.card.Prepared, " or ")
}

// Start is the moment at which the method's time starts, in words.
func (f *Facts) Start() string { return Label(startOf(f.Method)) }

// RequiredRest is the tested rest for the method.
func (f *Facts) RequiredRest() string { return measure.Duration(restNeeded(f.Method)).String() }

// HeldTime is the longest unbroken stretch of a batch.
func (f *Facts) HeldTime() string { return measure.Duration(f.Held).String() }
