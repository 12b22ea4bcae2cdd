// Package gibbs samples the posterior of a hierarchical normal model whose
// observations may be bounds.
//
// # Model
//
// Observation i lies in the interval [Lo[i], Hi[i]]: a value where the two are
// equal, a lower bound where Hi is +Inf, an upper bound where Lo is −Inf. Behind
// it stands a normal variate
//
//	y[i] = μ[cell(i)] + Σ_t u_t[level_t(i)] + e[i],   e[i] ~ Normal(0, σ[group(cell(i))])
//	u_t[l] ~ Normal(0, τ_t)
//
// with these priors:
//
//   - μ flat, or for the cells named in Model.Learn a Student t learned from the
//     values of other cells (see Learned);
//   - one group: p(σ) ∝ 1/σ. Several groups: log σ[g] ~ Normal(λ, ω), λ flat, ω
//     half-t (ScatterPrior), so that the groups borrow from each other, within a
//     range (ScatterRange);
//   - τ_t half-t (Term.Prior).
//
// With exact observations only, one group and no terms, the posterior of any
// contrast of the μ is Student's t with n − cells degrees of freedom, centred and
// scaled as in the classical analysis of variance.
//
// # Method
//
// A chain cycles through
//
//  1. the variates behind the bounds, given everything else (truncated normals;
//     Chib 1992, Robert 1995);
//  2. all μ and u together, given those: a normal draw after one block, the
//     largest, has been eliminated;
//  3. each τ twice, once given u and once given u/τ (interweaving; Yu and Meng
//     2011, section 2.2);
//  4. the scatters: all by one factor, then the spread of their logarithms given
//     their places in it (interweaving again), then each;
//  5. μ and log σ once more where bounds are many, with the variates behind the
//     bounds integrated out, by slice sampling (Neal 2003, figure 5): each alone,
//     and a σ together with the μ of its cells along the ridge that bounds make
//     (Liu and Sabatti 2000).
//
// Step 5 is what makes cells usable in which every observation is a bound: with
// step 1 and 2 alone their μ moves by a random walk whose steps shrink as it
// rises. The variates of step 1 are drawn afresh before they are used again, as
// a partly collapsed sampler needs (van Dyk and Park 2008).
//
// Chains are independent, each with a source of randomness made from the seed and
// its number, so that a result depends on the seed and not on how many chains
// run at once.
//
// # References
//
// S. Chib, Journal of Econometrics 51 (1992) 79–99. C. P. Robert, Statistics and
// Computing 5 (1995) 121–125. J. S. Liu and C. Sabatti, Biometrika 87 (2000)
// 353–369. R. M. Neal, Annals of Statistics 31 (2003) 705–767.
// Y. Yu and X.-L. Meng, Journal of Computational and Graphical Statistics 20
// (2011) 531–570. D. A. van Dyk and T. Park, Journal of the American Statistical
// Association 103 (2008) 790–796. A. Vehtari et al., Bayesian Analysis 16 (2021)
// 667–718.
package gibbs
