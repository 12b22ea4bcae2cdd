# Expected values of TestFTest: the F test of the quadratic term. Run in this folder:
#   Rscript ftest.R
for (set in c("norris", "pontius")) {
  d <- read.csv(paste0("nist_", set, ".csv"))
  d$t <- (d$x - mean(d$x)) / sd(d$x)
  a <- anova(lm(y ~ t, d), lm(y ~ t + I(t^2), d))
  cat(sprintf("%s %.12g %.12g\n", set, a$F[2], a$`Pr(>F)`[2]))
}
cat(R.version.string, "\n")
