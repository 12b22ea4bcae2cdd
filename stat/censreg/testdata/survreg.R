# Expected values for the tests of package censreg, from R's survival package.
#
# Run from the root of the repository:
#
#     Rscript stat/censreg/testdata/survreg.R
#
# It writes, beside itself:
#
#     survreg_data.csv   seeded simulated data sets, strengths with bounds
#     survreg_fits.csv   survreg: coefficients, standard errors, log-likelihoods
#     survreg_bounds.csv one-sided likelihood-ratio bounds by offset and uniroot
#     survfit.csv        survfit: Kaplan-Meier curves
#
# An observation lies in [lo, hi]: lo = hi exact, hi = Inf a lower bound, lo = 0
# an upper bound (its logarithm is -Inf).

suppressMessages(library(survival))
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)))
stamp <- sprintf("# made by survreg.R with %s, survival %s", R.version.string, packageVersion("survival"))
control <- survreg.control(rel.tolerance = 1e-12, maxiter = 500, outer.max = 50)
digits <- function(x) sprintf("%.17g", x)

emit <- function(name, table) {
  file <- file.path(here, name)
  writeLines(stamp, file)
  suppressWarnings(write.table(table, file, append = TRUE, sep = ",", quote = FALSE, row.names = FALSE))
}

# Right-censored sets. The bound of each observation has a median above the
# typical strength by the factor room, so room sets the share of bounds. The
# draw is repeated until every group has at least two exact observations.
right <- function(set, seed, sizes, room, sigma = 0.18) {
  set.seed(seed)
  group <- rep(letters[seq_along(sizes)], sizes)
  mu <- log(8) + rnorm(length(sizes), sd = 0.15)
  repeat {
    strength <- exp(rnorm(length(group), mu[match(group, letters)], sigma))
    limit <- exp(rnorm(length(group), log(8 * room), 0.15))
    lo <- round(pmin(strength, limit), 3)
    is.exact <- strength <= limit
    if (all(tapply(is.exact, group, sum) >= 2)) break
  }
  data.frame(set, group, u = round(rnorm(length(group)), 3), lo,
             hi = ifelse(is.exact, lo, Inf), weight = 1)
}

mixed <- function(seed) {
  set.seed(seed)
  n <- 60
  group <- rep(c("a", "b", "c"), n / 3)
  u <- round(rnorm(n), 3)
  t <- round(exp(2 + 0.3 * (group == "b") - 0.2 * (group == "c") + 0.15 * u + rnorm(n, sd = 0.3)), 3)
  sort <- sample(c("exact", "lower", "upper", "between"), n, replace = TRUE, prob = c(4, 2, 2, 2))
  lo <- ifelse(sort == "upper", 0, ifelse(sort == "exact", t, round(t * runif(n, 0.6, 0.95), 3)))
  hi <- ifelse(sort == "lower", Inf, ifelse(sort == "exact", t, round(t * runif(n, 1.05, 1.5), 3)))
  data.frame(set = "mix", group, u, lo, hi, weight = sample(1:3, n, replace = TRUE))
}

# Strengths rounded so that events and bounds fall on the same values.
tied <- function(seed) {
  set.seed(seed)
  t <- round(exp(rnorm(40, 2, 0.25)))
  is.exact <- runif(40) < 0.6
  data.frame(set = "ties", group = rep(c("a", "b"), 20), u = 0, lo = t,
             hi = ifelse(is.exact, t, Inf), weight = sample(1:2, 40, replace = TRUE))
}

# As s35, with every observation of group c turned into a lower bound.
limited <- function(d) {
  d$set <- "lim"
  d$hi[d$group == "c"] <- Inf
  d
}

s35 <- right("s35", 35, c(6, 7, 5, 8, 6, 6), 1.15)
data <- rbind(
  right("s00", 1, c(8, 8, 8, 8), 1e6),
  right("s15", 15, c(6, 5, 9, 7, 6, 8), 1.45),
  s35,
  right("s60", 60, c(14, 12, 16, 13, 15), 0.93),
  mixed(7), tied(3), limited(s35))

shares <- tapply(data$lo != data$hi, data$set, mean)
print(round(shares, 3))
emit("survreg_data.csv", transform(data, u = digits(u), lo = digits(lo), hi = digits(hi)))

# Fits -----------------------------------------------------------------------

response <- function(d) {
  Surv(ifelse(d$lo == 0, NA, d$lo), ifelse(is.finite(d$hi), d$hi, NA), type = "interval2")
}

log.response <- function(d) {
  Surv(ifelse(d$lo == 0, NA, log(d$lo)), ifelse(is.finite(d$hi), log(d$hi), NA), type = "interval2")
}

fits <- NULL
add <- function(set, coding, dist, quantity, value) {
  fits <<- rbind(fits, data.frame(set, coding, dist, quantity, value = digits(value)))
}

one.fit <- function(d, set, coding, dist, scale = 0) {
  formula <- switch(coding, cell = y ~ 0 + group, treatment = y ~ group,
                    covariate = y ~ 0 + group + u, fixed = y ~ 0 + group)
  y <- response(d)
  environment(formula) <- environment()
  fit <- survreg(formula, data = d, weights = weight, dist = dist, scale = scale, control = control)
  stopifnot(all(is.finite(fit$coefficients)))
  se <- sqrt(diag(fit$var))
  p <- length(fit$coefficients)
  for (j in seq_len(p)) {
    add(set, coding, dist, paste0("coef", j), fit$coefficients[j])
    add(set, coding, dist, paste0("se", j), se[j])
  }
  add(set, coding, dist, "scale", fit$scale)
  if (scale == 0) add(set, coding, dist, "selogscale", se[p + 1])
  add(set, coding, dist, "loglik_strength", fit$loglik[2])
  y <- log.response(d)
  log.dist <- c(lognormal = "gaussian", weibull = "extreme")[dist]
  log.fit <- survreg(formula, data = d, weights = weight, dist = log.dist, scale = scale, control = control)
  add(set, coding, dist, "loglik_y", log.fit$loglik[2])
}

for (set in c("s00", "s15", "s35", "s60", "mix")) {
  d <- data[data$set == set, ]
  for (dist in c("lognormal", "weibull")) {
    one.fit(d, set, "cell", dist)
    one.fit(d, set, "treatment", dist)
    one.fit(d, set, "covariate", dist)
    one.fit(d, set, "fixed", dist, scale = 0.25)
  }
}
emit("survreg_fits.csv", fits)

# Likelihood-ratio bounds -----------------------------------------------------

# The coefficient of group g is held at b by an offset, the others are fitted.
profile.loglik <- function(d, g, b, dist) {
  d$y <- log.response(d)
  d$held <- b * (d$group == g)
  others <- sort(setdiff(unique(d$group), g))
  terms <- sprintf("I(as.numeric(group == '%s'))", others)
  formula <- as.formula(paste("y ~ 0 + offset(held) +", paste(terms, collapse = " + ")))
  survreg(formula, data = d, dist = dist, control = control)$loglik[2]
}

bounds <- NULL
for (dist in c("gaussian", "extreme")) {
  for (level in c(0.9, 0.95)) {
    # group b of s35: a coefficient with an estimate
    d <- data[data$set == "s35", ]
    fit <- survreg(log.response(d) ~ 0 + group, data = d, dist = dist, control = control)
    root <- function(b) 2 * (fit$loglik[2] - profile.loglik(d, "b", b, dist)) - qnorm(level)^2
    est <- fit$coefficients["groupb"]
    found <- uniroot(root, c(est - 0.4, est), tol = 1e-13)$root
    bounds <- rbind(bounds, data.frame(set = "s35", group = "b", dist, level, bound = digits(found)))
    # group c of lim: every observation is a lower bound; the supremum of the
    # likelihood is that of the data without the group
    d <- data[data$set == "lim", ]
    rest <- d[d$group != "c", ]
    fit <- survreg(log.response(rest) ~ 0 + group, data = rest, dist = dist, control = control)
    root <- function(b) 2 * (fit$loglik[2] - profile.loglik(d, "c", b, dist)) - qnorm(level)^2
    found <- uniroot(root, c(1.5, 3), tol = 1e-13)$root
    bounds <- rbind(bounds, data.frame(set = "lim", group = "c", dist, level, bound = digits(found)))
  }
}
emit("survreg_bounds.csv", bounds)

# Kaplan-Meier ----------------------------------------------------------------

curves <- NULL
for (set in c("s00", "s15", "s35", "s60", "lim", "ties")) {
  for (group in c("all", sort(unique(data$group[data$set == set])))) {
    d <- data[data$set == set & (group == "all" | data$group == group), ]
    if (!any(d$lo == d$hi)) next
    fit <- survfit(Surv(lo, lo == hi) ~ 1, data = d, weights = weight)
    s <- summary(fit)
    median <- quantile(fit, 0.5, conf.int = FALSE)
    curves <- rbind(curves, data.frame(set, group, time = digits(s$time), risk = s$n.risk,
      events = s$n.event, survival = digits(s$surv), stderr = digits(s$std.err), median = digits(median)))
  }
}
emit("survfit.csv", curves)
cat(stamp, "\n")
