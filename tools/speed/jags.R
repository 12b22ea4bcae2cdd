# Samples the model of a table with JAGS and prints seconds and effective sizes.
#	Rscript jags.R data.csv iterations
# Columns: lo, bound (TRUE where only a lower bound), cell, board, group, all from 1.
suppressMessages({library(rjags); library(coda)})
args <- commandArgs(TRUE)
d <- read.csv(args[1])
n.iter <- as.integer(args[2])
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
  for (c in 1:cells) { mu[c] ~ dnorm(0, 1.0E-8) }
}"
jd <- list(n = nrow(d), y = ifelse(d$bound, NA, d$lo), lo = ifelse(d$bound, d$lo, -100), above = rep(1, nrow(d)),
           cell = d$cell, board = d$board, group = d$group, boards = max(d$board), groups = max(d$group), cells = max(d$cell))
first <- as.numeric(tapply(d$lo, factor(d$cell, seq_len(max(d$cell))), mean))
start <- function(k) list(y = ifelse(d$bound, d$lo + 0.1, NA), mu = first, .RNG.name = "base::Mersenne-Twister", .RNG.seed = k)
m <- jags.model(textConnection(model), jd, inits = lapply(1:4, start), n.chains = 4, quiet = TRUE)
update(m, 2000, progress.bar = "none")
took <- system.time(s <- coda.samples(m, c("mu", "sigma", "tau"), n.iter, progress.bar = "none"))[["elapsed"]]
ess <- effectiveSize(s)
cat(sprintf("%.6f %.3f %.3f %.3f\n", took, min(ess[grep("^mu", names(ess))]), median(ess[grep("^mu", names(ess))]), min(ess)))
cat(sprintf("%s, rjags %s, JAGS %s\n", R.version.string, packageVersion("rjags"), jags.version()))
