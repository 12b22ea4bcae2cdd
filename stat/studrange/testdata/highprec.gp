\\ Both tails of the studentized range to 20 digits, by quadrature that shares
\\ nothing with the package: Gauss-Legendre panels in z and in w = q s (in log s
\\ for many degrees of freedom), 57-digit arithmetic, PARI/GP.
\\
\\   gp -q highprec.gp > highprec.csv
default(realprecision, 57);
G = intnumgaussinit(20);
ncdf(x) = erfc(-x/sqrt(2))/2;
pdf(z) = exp(-z^2/2)/sqrt(2*Pi);

\\ Sum of the vector function f over the panels with the given ends.
\\ intnumgaussinit gives the nodes that are not negative.
panels(f, ends) = {
  my(total = [0, 0]);
  for (p = 1, #ends-1,
    my(m = (ends[p]+ends[p+1])/2, h = (ends[p+1]-ends[p])/2);
    for (i = 1, #G[1], total += h*G[2][i]*(f(m+h*G[1][i]) + f(m-h*G[1][i]))));
  total;
}

\\ The nodes in z are the same for every w: panels of length 1/2 from -11 to 21.
Z = List(); W = List();
{
for (p = -22, 41,
  for (i = 1, #G[1],
    listput(Z, p/2+1/4+G[1][i]/4); listput(W, G[2][i]/4);
    listput(Z, p/2+1/4-G[1][i]/4); listput(W, G[2][i]/4)));
}
Z = Vec(Z); W = Vec(W);
B = apply(ncdf, Z); F = apply(pdf, Z);

\\ [P(range <= w), P(range > w)]
range(w, k) = {
  if (w > 42, return ([1, 0]));
  my(lo = 0, up = 0, d);
  for (i = 1, #Z,
    d = (B[i] - ncdf(Z[i]-w))^(k-1);
    lo += W[i]*F[i]*d;
    up += W[i]*F[i]*(B[i]^(k-1) - d));
  [k*lo, k*up];
}

\\ density of s, and of x = log s
gs(s, nu) = 2*exp(nu/2*log(nu/2) - lngamma(nu/2) + (nu-1)*log(s) - nu*s^2/2);
gx(x, nu) = 2*exp(nu/2*log(nu/2) - lngamma(nu/2) + nu*x - nu*exp(2*x)/2);

prob(q, k, nu) = {
  if (nu == oo, return (range(q, k)));
  if (nu < 10,
    \\ ends at every w and every s at which the integrand changes; below w = 1/16,
    \\ w = u^4 makes it a power series in u when 4 nu is whole
    my(ends = concat([1/16, 1/4, 1/2, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 22, 26, 32],
      concat(vector(26, i, q*i/2), vector(15, i, 32*2^i))), first);
    ends = select(w -> w <= max(32, 13*q), vecsort(ends,, 8));
    first = ends[1];
    return (panels(u -> 4*u^3*gs(u^4/q, nu)/q*range(u^4, k), [0, first^(1/4)]) +
      panels(w -> gs(w/q, nu)/q*range(w, k), ends)));
  my(x0 = -log(1+q^2/(2*nu))/4, sd = 1/sqrt(2*nu));
  panels(x -> gx(x, nu)*range(q*exp(x), k), vector(29, i, x0+(2*i-42)*sd));
}

v = version();
print("# PARI/GP ", v[1], ".", v[2], ".", v[3], ", highprec.gp");
print("tail,k,df,q,p");
digits20(x) = strjoin(strsplit(Strprintf("%.20g", x), " "), "");
out(q, k, nu) = {
  my(p = prob(eval(q), k, if (nu == "inf", oo, eval(nu))));
  printf("lower,%d,%s,%s,%s\n", k, nu, q, digits20(p[1]));
  if (abs(p[1]+p[2]-1) > 1e-18, error("tails do not add up to 1 by ", p[1]+p[2]-1.));
  printf("upper,%d,%s,%s,%s\n", k, nu, q, digits20(p[2]));
}
{
  my(c = [["3.5",2,"1"],["1e4",2,"1"],["0.01",2,"1"],["40",3,"1"],["3",200,"1"],["400",200,"1"],
    ["5",3,"1.5"],["0.2",3,"1.5"],["2000",3,"1.5"],["16",20,"2"],["37.94",20,"2"],["1e5",20,"2"],
    ["4",6,"2.5"],["30",10,"3"],["0.5",4,"3"],["4.0461",4,"16"],["40",4,"16"],["0.3",4,"16"],["6",3,"5"],["11.93177159",20,"5"],["5",50,"7.25"],
    ["20",50,"7.25"],["6",200,"12"],["2.5",200,"12"],["3",5,"30"],["9",5,"30"],["20",5,"30"],
    ["4",10,"120"],["11",10,"120"],["1.5",10,"120"],["5.5",100,"1000"],["9",100,"1000"],
    ["6",200,"1e6"],["12",200,"1e6"],["3.5",3,"1e6"],["3.3145",3,"inf"],["0.05",3,"inf"],["14",3,"inf"],
    ["5.01",20,"inf"],["2",20,"inf"],["12",20,"inf"],["6.5",200,"inf"],["3",200,"inf"],["11",200,"inf"]]);
  for (i = 1, #c, out(c[i][1], c[i][2], c[i][3]));
}
quit
