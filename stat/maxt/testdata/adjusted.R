# Adjusted p-values and quantiles of published comparisons, from multcomp.
# Run: Rscript adjusted.R > adjusted.txt
suppressMessages({library(mvtnorm); library(multcomp)})
cat("#", R.version.string, "mvtnorm", as.character(packageVersion("mvtnorm")),
    "multcomp", as.character(packageVersion("multcomp")), "adjusted.R\n")
set.seed(1)
sharp <- adjusted("single-step", maxpts = 4e6, abseps = 1e-6, releps = 0)
report <- function(name, model, contrast) {
  g <- do.call(glht, list(model, contrast))
  s <- summary(g, test = sharp)
  q <- attr(confint(g, calpha = univariate_calpha())$confint, "calpha")
  cat(name, "df", g$df, "\n")
  cat("t", sprintf("%.10f", s$test$tstat), "\n")
  cat("p", sprintf("%.8f", s$test$pvalues), "error", format(attr(s$test$pvalues, "error")), "\n")
  m <- length(s$test$tstat)
  corr <- cov2cor(vcov(g))
  f <- function(c) pmvt(rep(-c, m), rep(c, m), df = g$df, corr = corr,
    algorithm = GenzBretz(maxpts = 4e6, abseps = 1e-6, releps = 0)) - 0.95
  cat("quantile0.95", sprintf("%.6f", uniroot(f, c(2, 4), tol = 1e-7)$root), "\n")
}
report("recovery", aov(minutes ~ blanket, recovery), mcp(blanket = "Dunnett"))
report("warpbreaks", aov(breaks ~ tension, warpbreaks), mcp(tension = "Tukey"))
report("recovery-pairs", aov(minutes ~ blanket, recovery), mcp(blanket = "Tukey"))
