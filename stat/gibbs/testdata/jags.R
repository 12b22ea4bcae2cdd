# Posterior summaries of two models by JAGS, an independent general-purpose
# sampler, for the tests of package gibbs. Run in this folder:
#
#	Rscript jags.R
#
# It writes jags-data.csv (the simulated data), jags-summary.csv (mean, standard
# deviation, quantiles and Monte Carlo errors) and jags-versions.txt.
suppressMessages(library(rjags))
set.seed(20260101)

model <- "
model {
  for (i in 1:n) {
    above[i] ~ dinterval(y[i], lo[i])
    y[i] ~ dnorm(mu[cell[i]] + u[board[i]], 1 / pow(sigma[group[i]], 2))
  }
  for (b in 1:boards) { u[b] ~ dnorm(0, 1 / pow(tau, 2)) }
  tau ~ dt(0, 1 / pow(0.2, 2), 3) T(0,)
  for (g in 1:groups) {
    logsigma[g] ~ dnorm(lambda, 1 / pow(omega, 2))
    sigma[g] <- exp(logsigma[g])
  }
  lambda ~ dunif(-20, 20)
  omega ~ dt(0, 1 / pow(0.3, 2), 3) T(0,)
  FLAT
}"

flat.all <- "for (c in 1:cells) { mu[c] ~ dnorm(0, 1.0E-8) }"
# The last cell holds bounds only; its prior is learned from the others.
flat.learn <- "
  for (c in 1:(cells - 1)) { mu[c] ~ dnorm(0, 1.0E-8) }
  k <- cells - 1
  m <- mean(mu[1:(cells - 1)])
  ss <- inprod(mu[1:(cells - 1)] - m, mu[1:(cells - 1)] - m)
  df <- 4 + k - 1
  s2 <- (4 * pow(0.4, 2) + ss) / df * (1 + 1 / k)
  mu[cells] ~ dt(m, 1 / s2, df)"

simulate <- function(limit) {
  means <- c(1.8, 1.9, 2.1, 2.4)
  sds <- c(0.15, 0.20, 0.12, 0.25)
  d <- expand.grid(rep = 1:6, cell = 1:4)
  d$board <- (seq_len(nrow(d)) - 1) %% 5 + 1
  shift <- rnorm(5, 0, 0.08)
  y <- means[d$cell] + shift[d$board] + rnorm(nrow(d), 0, sds[d$cell])
  own <- limit + rnorm(nrow(d), 0, 0.14)
  d$lo <- round(pmin(y, own), 4)
  d$bound <- own < y
  d
}

run <- function(d, flat) {
  y <- ifelse(d$bound, NA, d$lo)
  jd <- list(n = nrow(d), y = y, lo = ifelse(d$bound, d$lo, -100), above = rep(1, nrow(d)),
             cell = d$cell, board = d$board, group = d$cell, boards = 5, groups = 4, cells = 4)
  start <- function(k) list(y = ifelse(d$bound, d$lo + 0.1 * k, NA), mu = c(2, 2, 2, 2.4) + 0.05 * k,
                            .RNG.name = "base::Mersenne-Twister", .RNG.seed = k)
  m <- jags.model(textConnection(sub("FLAT", flat, model)), jd, inits = lapply(1:4, start), n.chains = 4, quiet = TRUE)
  update(m, 20000, progress.bar = "none")
  coda.samples(m, c("mu", "sigma", "tau", "omega"), 1000000, thin = 20, progress.bar = "none")
}

probs <- c(0.025, 0.05, 0.5, 0.95, 0.975)
summarise <- function(name, s) {
  all <- as.matrix(s)
  ess <- effectiveSize(s)
  out <- NULL
  for (v in colnames(all)) {
    x <- all[, v]
    # The error of a quantile, from batch quantiles: 40 batches.
    batch <- matrix(x, ncol = 40)
    q <- quantile(x, probs)
    qe <- apply(apply(batch, 2, quantile, probs), 1, sd) / sqrt(40)
    out <- rbind(out, data.frame(model = name, parameter = v, ess = ess[[v]], mean = mean(x), sd = sd(x), mean_se = sd(x) / sqrt(ess[[v]]),
      q025 = q[1], q05 = q[2], q50 = q[3], q95 = q[4], q975 = q[5],
      q025_se = qe[1], q05_se = qe[2], q50_se = qe[3], q95_se = qe[4], q975_se = qe[5], row.names = NULL))
  }
  out
}

some <- simulate(2.35)
repeat {
  limited <- simulate(2.25)
  by <- tapply(limited$bound, limited$cell, mean)
  if (by[4] == 1 && all(by[1:3] < 1)) break
}
if (any(tapply(some$bound, some$cell, mean) == 1)) stop("a cell of bounds only")
write.csv(rbind(cbind(model = "some", some), cbind(model = "learned", limited)), "jags-data.csv", row.names = FALSE)
res <- rbind(summarise("some", run(some, flat.all)), summarise("learned", run(limited, flat.learn)))
res[-(1:2)] <- lapply(res[-(1:2)], signif, 7)
write.csv(res, "jags-summary.csv", row.names = FALSE)
writeLines(c(R.version.string, paste("rjags", packageVersion("rjags")), paste("coda", packageVersion("coda")),
             paste("JAGS", jags.version())), "jags-versions.txt")
