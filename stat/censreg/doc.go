// Package censreg fits location-scale regression by maximum likelihood to data
// of which some are only bounds, and estimates survival functions from such data
// by the product limit.
//
// # Model
//
//	y = xβ + σW,   σ > 0,
//
// where W is standard normal or standard smallest-extreme-value. With y the
// logarithm of a positive quantity T, T is lognormal or Weibull: this is then
// Weibull regression with shape 1/σ and scale exp(xβ).
//
// An observation says that y lies in a closed interval [lo, hi]:
//
//	lo == hi              exact
//	hi = +Inf             a lower bound (right-censored)
//	lo = -Inf             an upper bound (left-censored)
//	lo < hi, both finite  an interval
//
// With f and F the density and the distribution function of W, the
// log-likelihood is the sum, over observations with frequency w, of
//
//	w·(log f((y-xβ)/σ) - log σ)                       exact
//	w·log(F((hi-xβ)/σ) - F((lo-xβ)/σ))                otherwise.
//
// It is on the scale of y. For y = log t, the log-likelihood on the scale of t
// is this value less Σ w·log t over the exact observations; bounds contribute the
// same to both.
//
// # Parameters in R
//
// R's survival::survreg with dist = "lognormal" or "weibull" and the response t,
// or dist = "gaussian" or "extreme" and the response log t, has the same
// parameters: coefficients β and scale σ. Its var is Cov, in the order
// (β, log σ), and its loglik[2] is the log-likelihood on the scale of its
// response. In R's dweibull the shape is 1/σ and the scale exp(xβ).
//
// # Existence
//
// The log-likelihood is concave in (β/σ, 1/σ) (Burridge 1981), so that there is
// one maximum or none. It has none when β can move off in a direction that leaves
// exact observations where they are and takes bounds ever further into their
// safe side, as in a group of lower bounds only, or when some β meets all
// observations without scatter (Silvapulle and Burridge 1986). Regress decides
// both questions before it maximises, by non-negative least squares, and returns
// an *UnboundedError that names columns and observations, or ErrPerfectFit. For
// a coefficient without an estimate LowerBound still gives a bound.
//
// # Method and accuracy
//
// Newton's method with step halving in (β/σ, 1/σ) of whitened columns and of
// residuals from a least-squares fit, from which β, σ and the covariance matrix
// are transformed back. Tail probabilities are computed as logarithms and
// hazards and keep full precision at any distance from the centre; intervals
// too narrow for a difference of two probabilities are integrated by quadrature.
//
// On data sets with 0 to 63 per cent of bounds coefficients, scales, standard
// errors and log-likelihoods agree with survreg to 1e-12. The residuals are
// formed in twice the working precision: a common level of the data 10¹³ times
// the scatter costs no digits of σ beyond those that the data lost when they
// became float64.
//
// # References
//
// Burridge, J. (1981). A note on maximum likelihood estimation for regression
// models using grouped data. Journal of the Royal Statistical Society B 43, 41–45.
//
// Greenwood, M. (1926). The natural duration of cancer. Reports on Public Health
// and Medical Subjects 33, 1–26. HMSO, London.
//
// Kaplan, E. L. and Meier, P. (1958). Nonparametric estimation from incomplete
// observations. Journal of the American Statistical Association 53, 457–481.
//
// Lawless, J. F. (2003). Statistical Models and Methods for Lifetime Data, 2nd
// edition, chapters 3, 5 and 6. Wiley.
//
// Lawson, C. L. and Hanson, R. J. (1974). Solving Least Squares Problems, chapter
// 23. Prentice-Hall.
//
// Ogita, T., Rump, S. M. and Oishi, S. (2005). Accurate sum and dot product. SIAM
// Journal on Scientific Computing 26, 1955–1988.
//
// Olsen, R. J. (1978). Note on the uniqueness of the maximum likelihood estimator
// for the tobit model. Econometrica 46, 1211–1215.
//
// Silvapulle, M. J. and Burridge, J. (1986). Existence of maximum likelihood
// estimates in regression models for grouped and ungrouped data. Journal of the
// Royal Statistical Society B 48, 100–106.
package censreg
