# Slow work that is not part of the tests. The two commands that most people need
# are in README.md and need no make.

.PHONY: study speed pagespeed expected fuzz picture

# How often the answers hold, on simulated trials: writes docs/measured.md.
# About half an hour on two processors.
study:
	go run ./tools/study

# How long answers take, and against JAGS: writes docs/measured.md. JAGS and R
# come from Debian's packages: apt-get install r-base-core r-cran-rjags
speed:
	go run ./tools/speed

# How fast the pages of a full logbook are, and breaks recorded through them: writes
# docs/measured.md. About a minute.
pagespeed:
	go run ./tools/pagespeed -write

# Makes the expected values of the tests again, in R. Debian's packages:
# apt-get install r-base-core r-cran-survival r-cran-multcomp r-cran-mvtnorm r-cran-rjags r-cran-posterior
expected:
	for f in $$(git ls-files '*/testdata/*.R'); do echo "$$f"; (cd "$$(dirname "$$f")" && Rscript "$$(basename "$$f")") || exit 1; done

# Draws the picture in the README.
picture:
	go run ./tools/picture

# Runs every fuzz test for ten minutes.
fuzz:
	go run ./tools/check -fuzz 10m
