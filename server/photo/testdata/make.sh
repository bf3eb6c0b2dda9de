#!/bin/bash
# Makes the WebP pictures of this folder, with cwebp and img2webp 1.2.4 of
# Debian's package webp. The pictures are written out as PPM and PAM first.
set -e
sheet=$(mktemp -d)

# block LEFT RIGHT: 32 rows, each of 48 pixels LEFT and 48 pixels RIGHT.
block() { for _ in $(seq 32); do printf "$1%.0s" $(seq 48); printf "$2%.0s" $(seq 48); done; }
red='\377\0\0' green='\0\377\0' blue='\0\0\377' yellow='\377\377\0'

# corners: red and green above, blue and yellow below.
(printf 'P6\n96 64\n255\n'; block $red $green; block $blue $yellow) >"$sheet/corners.ppm"
# turned: the same, upside down, the second frame of moving.webp.
(printf 'P6\n96 64\n255\n'; block $yellow $blue; block $green $red) >"$sheet/turned.ppm"
# clear: opaque red on the left, nothing on the right.
(printf 'P7\nWIDTH 96\nHEIGHT 32\nDEPTH 4\nMAXVAL 255\nTUPLTYPE RGB_ALPHA\nENDHDR\n'; block "$red\\377" '\0\0\0\0') >"$sheet/clear.pam"

cwebp -quiet -q 90 "$sheet/corners.ppm" -o corners-lossy.webp
cwebp -quiet -lossless "$sheet/corners.ppm" -o corners-lossless.webp
cwebp -quiet -q 90 "$sheet/clear.pam" -o clear.webp
img2webp -lossless -d 100 "$sheet/corners.ppm" "$sheet/turned.ppm" -o moving.webp
rm -r "$sheet"
