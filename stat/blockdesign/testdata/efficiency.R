# Efficiency and canonical efficiency factors of unbalanced designs, by the singular
# value decomposition of the information matrix. Run: Rscript efficiency.R > efficiency.csv
ginv <- function(m) { s <- svd(m); d <- ifelse(s$d > 1e-10, 1/s$d, 0); s$v %*% (d * t(s$u)) }
designs <- list(                                  # rows are blocks
  rbind(c(1,1,1,0), c(1,1,1,0), c(0,0,1,1)),
  rbind(c(2,1,0,0,1), c(0,1,1,0,0), c(1,0,0,3,1), c(0,0,2,1,0), c(1,1,1,1,1)),
  rbind(c(1,0), c(2,1), c(3,4), c(0,1)),
  rbind(c(1,1,0,0,0,0), c(0,1,1,0,0,0), c(0,0,1,1,0,0), c(0,0,0,1,1,0), c(0,0,0,0,1,1), c(1,0,0,0,0,1)),
  rbind(c(4,1,1,1,1), c(0,2,0,1,1), c(1,1,1,0,0), c(0,0,0,0,0)),
  rbind(c(1,2,3,4,5,6,7), c(7,6,5,4,3,2,1), c(1,0,1,0,1,0,1)))
cat("counts,weights,efficiency,factors\n")
for (n in designs) for (weighted in c(FALSE, TRUE)) {
  full <- n[rowSums(n) > 0, , drop = FALSE]
  k <- rowSums(full); r <- colSums(full); t <- ncol(full)
  info <- diag(r) - t(full) %*% diag(1/k) %*% full
  g <- ginv(info)
  free <- 0; blocked <- 0
  for (i in 2:t) for (j in 1:(i-1)) {
    w <- if (!weighted) 1 else if (j == 1) i else 0.5   # treatment 1 is a control
    free <- free + w * (1/r[i] + 1/r[j])
    blocked <- blocked + w * (g[i,i] + g[j,j] - 2*g[i,j])
  }
  e <- sort(eigen(diag(1/sqrt(r)) %*% info %*% diag(1/sqrt(r)), symmetric = TRUE)$values)[-1]
  cat(paste(apply(n, 1, paste, collapse = " "), collapse = " | "),
      if (weighted) "control" else "none",
      sprintf("%.15f", free / blocked),
      paste(sprintf("%.15f", e), collapse = " "), sep = ",")
  cat("\n")
}
