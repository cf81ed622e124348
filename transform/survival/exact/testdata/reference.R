# Reference values for exact: Rscript reference.R in this folder.
# counts_r.csv  binom.test (Clopper-Pearson) and poisson.test limits
# orders_r.csv  quantile(type = 8) and order-statistic limits from qbinom
options(digits = 15)
b <- NULL
for (level in c(.8, .9, .95)) for (x in list(c(0, 20), c(1, 20), c(5, 100), c(20, 20), c(37, 900), c(4999, 10000))) {
  e <- binom.test(x[1], x[2], conf.level = level)$conf.int; q <- poisson.test(x[1], x[2], conf.level = level)$conf.int
  b <- rbind(b, data.frame(level, count = x[1], n = x[2], share_lo = e[1], share_hi = e[2], rate_lo = q[1], rate_hi = q[2])) }
write.csv(b, "counts_r.csv", row.names = FALSE)
set.seed(4); o <- NULL
for (n in c(5, 12, 30, 100, 441)) { x <- round(rnorm(n, 0.9, 0.05), 4)
  for (p in c(.1, .5, .9)) { l <- qbinom(.025, n, p); u <- qbinom(.975, n, p) + 1; s <- sort(x)
    o <- rbind(o, data.frame(n, p, q = quantile(x, p, type = 8), lo = if (l >= 1) s[l] else NA, hi = if (u <= n) s[u] else NA, values = paste(x, collapse = " "))) } }
write.csv(o, "orders_r.csv", row.names = FALSE)
