package scenarios

// Published limits that are the same for every food. They are facts for the
// rules: no rule holds a number of its own. Pages are of the USDA Complete
// Guide to Home Canning, AIB 539, 2015, unless another source is named.
const (
	phLimit          = 4.6  // the line between acid and low-acid food, p. 1-8
	ventNeededMin    = 10.0 // steam before the vent is closed, minutes, p. 1-22
	restBoilingMin   = 5.0  // heat off to lifting the jars, minutes, p. 1-18
	restPressureMin  = 10.0 // weight off to opening the lid, minutes, p. 1-22
	waterLeastIn     = 1.0  // water over the lids, inches, p. 1-18
	waterLongIn      = 2.0  // the same for a process over waterLongFromMin, p. 1-18
	waterLongFromMin = 30.0
	steamLongestMin  = 45.0 // atmospheric steam, altitude included: National Center for Home Food Preservation
	sterileUnderMin  = 10.0 // jars are sterilized for jams and pickles processed for less, p. 1-14
	coolingLeastH    = 12.0 // undisturbed, hours, p. 1-18
	unsealedLongestH = 24.0 // to put an unsealed jar right, hours, p. 1-26
	storageHottestF  = 95.0 // p. 1-11, 1-26
	storageBestF     = 70.0 // p. 1-12
	storageMonths    = 12.0 // p. 1-12
	psiCeiling       = 15.0 // home canners, p. 1-10

	// Both foods without a printed headspace, fruit for babies and green mango, are
	// fruit in boiling water, and the guide sends the first to the fruit's own recipe
	// (p. 1-31). Fruit in boiling water is printed with 1/4 in, purées, to 1 in,
	// whole grapes; less than that is printed for ketchup alone, which is no fruit.
	headspaceLeastIn = 0.25 // inches, pp. 1-13, 2-14
	headspaceMostIn  = 1.0  // inches, p. 2-16
)

// Reading tolerances: how far a measured value may be from the printed one and
// still be the same value written in other units or read off a spoon, a ruler
// or a dial. They never reach the next printed step.
const (
	lengthToleranceIn   = 0.05  // 13 mm or 12 mm for 1/2 in, 25 mm for 1 in
	volumeTolerance     = 0.005 // as a share: 30 ml for 2 tbsp
	spoonRounding       = 0.015 // as a share, of what is the same spoon: 30 ml for 2 tbsp, 5 ml for 1 tsp
	pressureToleranceLb = 0.05  // 76 kPa for 11 psi
	timeToleranceMin    = 1e-9
)
