// Package photo takes in the pictures that learners send of their jars. What
// comes in is a stranger's file; what goes out is a [Photo] that this package
// has drawn and encoded itself, and not one byte of the file is in it. A page
// may then show it to a whole class.
//
// # What is let in
//
// JPEG, PNG and WebP, told by their first bytes. A file's name and the type that
// a browser claims are not asked: both are the sender's to choose. Before a
// picture is decoded, its header must show that it is small enough: a file of a
// few hundred bytes may unfold into gigabytes. The decoders hold a file to the
// size in its header, so the header cannot lie. A WebP that moves is refused,
// because a record of a jar is one picture, and to choose the frame would be to
// choose what the instructor sees.
//
// What is refused comes back as a [Refusal], a sentence to the learner. Any other
// error is ours or the network's.
//
// # What is left behind
//
// A phone writes into each photo where it was taken, when, and by which device;
// sending a jar must not give away a kitchen's address. So nothing is picked out
// of the file: the pixels are drawn on a white sheet, the sheet is encoded anew,
// and our encoder writes no EXIF, GPS, XMP, comment or color profile. A script
// behind or inside a picture stays behind in the same way. Of all that is written
// beside the pixels, one thing is obeyed, the turn that EXIF asks for, since
// phones keep upright pictures lying down.
//
// Color profiles are dropped, not applied: a picture in a wider color space than
// sRGB comes out a little paler.
//
// # How much at once
//
// Decoding is what costs, so no more pictures are decoded at once than there are
// processors; the others wait, for as long as their context lets them. A picture
// of 12 megapixels takes about 200 MB while it is worked on. The worst that is
// let in, a progressive JPEG of 40 megapixels, takes about 1 GB.
package photo
