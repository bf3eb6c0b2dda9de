// Package analysis looks at a class's answers and tells which items of a test do
// their work: classical item analysis, and the cut score of Angoff.
//
// # The table
//
// A [Table] has a row for each learner and a column for each item. Its cells are
// marks, 0 for wrong and 1 for right, or the options chosen, with a key that names
// the right one of each item. A learner with an empty cell is left out, and counted:
// a total without one of its items cannot be compared with the others.
//
// [ReadCSV] reads one from comma-separated values: at most 100 000 learners and
// 1 000 items. Options are letters, A to Z in either case, or whole numbers, 0 to 99;
// the answers to an item are of the same kind as its key. A first row in which no cell
// is a valid answer is a header, and names the items. A first column that is not a
// valid answer in any row holds the learners' ids. Without a key the valid answers
// are 0 and 1; with one they are letters, if the key has any, and numbers, if the key
// has any.
//
// # What is computed
//
// With n learners and k items, x the mark of an item, X the total of a learner and
// X - x the rest of it, [Of] gives (Crocker and Algina, Introduction to Classical and
// Modern Test Theory, 1986; Lord and Novick, Statistical Theories of Mental Test
// Scores, 1968; both from memory):
//
//	p              share of right answers, with Wilson's 95 % interval
//	r_incl         correlation of x with X, the point-biserial
//	r_excl         correlation of x with the rest X - x; the one to go by, because
//	               an item always agrees with itself
//	alpha          k/(k-1) (1 - Σ s²/S²), s² the variance of an item, S² that of X
//	               (Cronbach 1951)
//	kr20           k/(k-1) (1 - Σ p(1-p)/S²) (Kuder and Richardson 1937, formula 20)
//	sem            S √(1 - kr20), the standard error of measurement
//	alpha_deleted  alpha of the test without the item
//	discrimination share right in the upper group, less that in the lower group
//
// Every variance has the divisor n. A p(1-p) is the variance of a mark with divisor
// n, so S² must have it too: with n-1 there, KR-20 comes out too high, in a small
// class by much. Marks are 0 or 1, so alpha and kr20 are one number with two names.
//
// The upper and the lower group are the best and the worst 27 % of the learners by
// their total (Kelley 1939, from memory). Where a group ends among learners with equal
// totals, each of them belongs to it by the same fraction, so that the order of the
// table does not matter; a group may so hold 2.16 learners, and an option may be
// chosen by 0.58 of them.
//
// A value that is not defined is nil, and null in JSON: correlations where one side
// does not vary, reliability of one item or of equal totals, all of it for a class of
// nobody.
//
// # Small classes
//
// With fewer than 30 learners an analysis has a label, [TooFew], to be shown with
// whatever is shown. With fewer than 20 coefficients are mostly chance, and
// [Analysis.ForDisplay] hides them, with the flags that rest on them. Both limits are
// our choice, not a published rule. The JSON of an [Analysis] itself has all numbers,
// beside the label. What is shown to learners or leaves the class needs the rules
// for small counts as well, which are no matter of this package.
//
// # Flags
//
// A [Flag] says where to look, never what to do. Thresholds without a source
// are our choice.
//
//	of an item
//	  too-easy            p above 0.95
//	  too-hard            p below 0.20
//	  separates-little    discrimination of 0.19 or less, as printed to two places:
//	                      poor, by Ebel's guide (from memory)
//	of the right answer
//	  key-repels          r_rest below 0: negative discrimination
//	  key-outdrawn        more of the upper group chose some wrong option; a slip
//	                      in the key looks like this
//	of a wrong option
//	  never-chosen        by nobody
//	  rarely-chosen       by fewer than 5 % of the learners, but not by nobody
//	  draws-the-stronger  r_rest above 0
//	  outdraws-key        chosen by more of the upper group than the right answer
//
// In a table of marks 0 is no option that somebody wrote, so it has no flags.
package analysis
