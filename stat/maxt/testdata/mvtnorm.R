# Probabilities and quantiles of the largest |t| or t of sets of contrasts, from
# mvtnorm. Run: Rscript mvtnorm.R > mvtnorm.csv
#
# method: GenzBretz is randomised; its error column is the one it reports, three
# standard errors. TVPACK is deterministic and for three variables only.
suppressMessages({library(mvtnorm); library(multcomp)})
cat("#", R.version.string, "mvtnorm", as.character(packageVersion("mvtnorm")),
    "multcomp", as.character(packageVersion("multcomp")), "mvtnorm.R\n")
cat("case,sides,df,c,cdf,error\n")
set.seed(1)
sharp <- GenzBretz(maxpts = 4e6, abseps = 2e-6, releps = 0)
pairs_corr <- function(n) {
  C <- contrMat(n, "Tukey")
  cov2cor(C %*% diag(1/n) %*% t(C))
}
pr <- function(c, corr, df, sides, alg) {
  m <- nrow(corr)
  lo <- if (sides == 2) rep(-c, m) else rep(-Inf, m)
  p <- if (is.finite(df)) pmvt(lo, rep(c, m), df = df, corr = corr, algorithm = alg)
       else pmvnorm(lo, rep(c, m), corr = corr, algorithm = alg)
  c(p, attr(p, "error"))
}
show <- function(name, corr, df, sides, cs, alg) for (c in cs) {
  p <- pr(c, corr, df, sides, alg)
  cat(sprintf("%s,%d,%s,%g,%.10f,%.1e\n", name, sides, if (is.finite(df)) df else "inf", c, p[1], p[2]))
}
groups <- list(pairs3 = c(2, 9, 5), pairs4 = c(4, 10, 6, 3), pairs6 = c(3, 8, 4, 6, 5, 5))
for (g in names(groups)) {
  corr <- pairs_corr(groups[[g]])
  show(g, corr, 1, 2, c(12, 40), sharp)
  show(g, corr, 2, 2, c(3, 8), sharp)
  show(g, corr, 3, 2, c(2, 5), sharp)
  show(g, corr, 25, 2, c(1.5, 2.5, 3.1, 4), sharp)
  show(g, corr, Inf, 2, c(2, 2.85), sharp)
  show(g, corr, 25, 1, c(0.5, 1.5, 2.5), sharp)
}
# Three variables of full rank, not of one-factor form.
tri <- matrix(c(1, .3, -.4, .3, 1, .5, -.4, .5, 1), 3)
exact <- TVPACK(abseps = 1e-12)
for (df in c(2, 7, Inf)) {
  lo <- c(0.5, 1.5, 2.5)
  show("three", tri, df, 1, lo, exact)
}
# Two sides by inclusion and exclusion over the faces of the cube: TVPACK takes
# one-sided limits only.
two <- function(c, df) {
  total <- 0
  for (s1 in c(-1, 1)) for (s2 in c(-1, 1)) for (s3 in c(-1, 1)) {
    s <- c(s1, s2, s3)
    total <- total + prod(s) * (if (is.finite(df)) pmvt(rep(-Inf, 3), s * c, df = df, corr = tri, algorithm = exact)
      else pmvnorm(rep(-Inf, 3), s * c, corr = tri, algorithm = exact))
  }
  total
}
for (df in c(2, 7, Inf)) for (c in c(1, 2, 3))
  cat(sprintf("three,2,%s,%g,%.10f,%.1e\n", if (is.finite(df)) df else "inf", c, two(c, df), 8e-12))
