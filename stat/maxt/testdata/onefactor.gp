\\ Largest t or |t| for correlations b_i b_j to 20 digits: Gauss-Legendre panels in
\\ z and in log s, 57-digit arithmetic, PARI/GP.
\\
\\   gp -q onefactor.gp > onefactor.csv
default(realprecision, 57);
G = intnumgaussinit(20);
ncdf(x) = erfc(-x/sqrt(2))/2;
panels(f, ends) = {
  my(total = [0, 0]);
  for (p = 1, #ends-1,
    my(m = (ends[p]+ends[p+1])/2, h = (ends[p+1]-ends[p])/2);
    for (i = 1, #G[1], total += h*G[2][i]*(f(m+h*G[1][i]) + f(m-h*G[1][i]))));
  total;
}
gx(x, nu) = 2*exp(nu/2*log(nu/2) - lngamma(nu/2) + nu*x - nu*exp(2*x)/2);
inner(w, b, two) = {
  panels(z -> my(p = prod(i = 1, #b, my(r = sqrt(1-b[i]^2)); if (two,
      ncdf((w-b[i]*z)/r) - ncdf((-w-b[i]*z)/r), ncdf((w-b[i]*z)/r))));
    exp(-z^2/2)/sqrt(2*Pi)*[p, 1-p], vector(33, i, (i-17)/2*1.6));
}
prob(c, b, nu, two) = {
  if (nu == oo, return (inner(c, b, two)));
  my(sd = 1/sqrt(2*nu));
  panels(x -> gx(x, nu)*inner(c*exp(x), b, two), vector(25, i, (2*i-37)*sd));
}
digits20(x) = strjoin(strsplit(Strprintf("%.20g", x), " "), "");
v = version();
print("# PARI/GP ", v[1], ".", v[2], ".", v[3], ", onefactor.gp");
print("sides,df,c,cdf,survival,b...");
out(two, nu, c, b) = {
  my(p = prob(eval(c), apply(eval, b), if (nu == "inf", oo, eval(nu)), two));
  if (abs(p[1]+p[2]-1) > 1e-18, error("tails do not add up to 1 by ", p[1]+p[2]-1.));
  print(if (two, 2, 1), ",", nu, ",", c, ",", digits20(p[1]), ",", digits20(p[2]), ",", strjoin(b, " "));
}
B1 = ["0.6", "0.75", "0.5"];
B2 = ["0.9", "-0.3", "0.2", "0.7"];
out(1, "inf", "2.3", B1); out(0, "inf", "2.3", B1); out(0, "inf", "-0.5", B1);
out(1, "inf", "6", B2); out(0, "inf", "0.4", B2);
out(1, "7.5", "2.6", B1); out(0, "7.5", "2.2", B1); out(0, "7.5", "-1", B2);
out(1, "7.5", "9", B2); out(1, "30", "2.4", B2); out(1, "4.5", "1", B1);
quit
