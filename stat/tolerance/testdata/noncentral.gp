\\ Tails of the noncentral t distribution and tolerance factors to 20 digits:
\\ Gauss-Legendre panels in log s, 57-digit arithmetic, PARI/GP.
\\
\\   gp -q noncentral.gp > noncentral.csv
default(realprecision, 57);
G = intnumgaussinit(30);
panels(f, ends) = {
  my(total = [0, 0]);
  for (p = 1, #ends-1,
    my(m = (ends[p]+ends[p+1])/2, h = (ends[p+1]-ends[p])/2);
    for (i = 1, #G[1], total += h*G[2][i]*(f(m+h*G[1][i]) + f(m-h*G[1][i]))));
  total;
}
gx(x, nu) = 2*exp(nu/2*log(nu/2) - lngamma(nu/2) + nu*x - nu*exp(2*x)/2);

\\ [P(T <= t), P(T > t)]; panels of 1/(2 sqrt(nu+d^2+1)), far enough for 1e-40
prob(t, nu, d) = {
  my(h = 1/(2*sqrt(nu+d^2+1)), lo = -12/sqrt(nu) - min(100/nu, 40), hi = min(3, 12/sqrt(nu)));
  lo -= log(1+t^2/nu);
  my(n = ceil((hi-lo)/h));
  panels(x -> my(z = (t*exp(x)-d)/sqrt(2)); gx(x, nu)*[erfc(-z), erfc(z)]/2,
    vector(n+1, i, lo+(hi-lo)*(i-1)/n));
}
digits20(x) = strjoin(strsplit(Strprintf("%.20g", x), " "), "");
v = version();
print("# PARI/GP ", v[1], ".", v[2], ".", v[3], ", noncentral.gp");
print("what,df or n,delta or coverage,t or confidence,value");
out(t, nu, d) = {
  my(p = prob(eval(t), eval(nu), eval(d)));
  if (abs(p[1]+p[2]-1) > 1e-18, error("tails do not add up to 1 by ", p[1]+p[2]-1.));
  printf("cdf,%s,%s,%s,%s\n", nu, d, t, digits20(p[1]));
  printf("survival,%s,%s,%s,%s\n", nu, d, t, digits20(p[2]));
}
zq(p) = solve(x = -10, 10, erfc(-x/sqrt(2))/2 - p);
factor1(n, p, g) = {
  my(r = sqrt(n), d = zq(eval(p))*r, k, lo = -3., hi = 200.);
  \\ bracket by bisection in the smaller range first, then secant steps in solve
  k = solve(k = lo, hi, prob(k*r, n-1, d)[1] - eval(g));
  printf("factor,%d,%s,%s,%s\n", n, p, g, digits20(k));
}
{
  my(c = [["1","1","0"],["3","1","2"],["100","1","2.5"],["-5","1","2"],["0.5","2","3"],
    ["20","2","3"],["1e4","2","3"],["2.5","4.5","1"],["-3","4.5","1"],["8","7","5"],["2","7","5"],
    ["30","7","5"],["5","16","-2"],["-4","16","-2"],["12","42","8.4"],["6","42","8.4"],["16","99","16.4"],
    ["25","99","16.4"],["10","99","16.4"],["40","499","36.8"],["33","499","36.8"]]);
  for (i = 1, #c, out(c[i][1], c[i][2], c[i][3]));
  my(f = [[2,"0.95","0.75"],[2,"0.99","0.99"],[3,"0.95","0.75"],[5,"0.95","0.75"],[5,"0.05","0.95"],
    [10,"0.5","0.95"],[10,"0.95","0.75"],[43,"0.90","0.99"],[100,"0.99","0.90"],[100000,"0.95","0.75"]]);
  for (i = 1, #f, factor1(f[i][1], f[i][2], f[i][3]));
}
quit
