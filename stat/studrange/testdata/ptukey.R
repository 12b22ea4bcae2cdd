# Studentized range from R at moderate degrees of freedom, where it is sound.
# Run: Rscript ptukey.R > ptukey.csv
cat("#", R.version.string, "ptukey and qtukey of package stats, ptukey.R\n")
cat("what,k,df,arg,value\n")
for (k in c(2, 3, 5, 10, 20)) for (df in c(5, 10, 16, 30, 60, 120)) {
  for (q in c(1.5, 3, 4.5, 6))
    cat(sprintf("cdf,%d,%d,%g,%.12g\n", k, df, q, ptukey(q, k, df)))
  for (p in c(0.5, 0.9, 0.95, 0.99))
    cat(sprintf("quantile,%d,%d,%g,%.10g\n", k, df, p, qtukey(p, k, df)))
}
# The values that are wrong, for the record; the test does not use them.
for (df in 2:3) for (k in c(2, 20))
  cat(sprintf("wrong quantile,%d,%d,0.99,%.10g\n", k, df, qtukey(0.99, k, df)))
