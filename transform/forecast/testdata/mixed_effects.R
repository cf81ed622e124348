# How far a mixed-effects fit (nlme's lme) of the published paths, cut at some hours, is from what was read
# after them, mean of absolute ln: mixed_effects.csv.
# Run in this folder with R 4.2 (Debian's r-recommended). Paths are ln of the quantity relative to 0 h;
# each is fitted with a line of its own about the set's, once in the hours and once in their square root.
library(nlme)
sets <- list( # numbered from 0 in the table, as in the test
  gaas_laser = list(file = "gaas_laser.csv", y = function(d) -d$increase_pct / 100, cuts = c(2000, 3000)),
  luminosity = list(file = "luminosity_25c.csv", y = function(d) log(d$luminosity), cuts = c(2352, 4704)))
out <- NULL
for (name in names(sets)) {
  s <- sets[[name]]
  d <- read.csv(s$file)
  d$y <- s$y(d)
  for (cut in s$cuts) for (power in c(1, .5)) {
    d$x <- (d$hours / 1000)^power
    a <- d[d$hours <= cut & d$hours > 0, ]
    b <- d[d$hours > cut, ]
    m <- lme(y ~ x, random = ~ x | unit, data = a, control = lmeControl(opt = "optim", maxIter = 500, msMaxIter = 500))
    error <- abs(b$y - as.numeric(predict(m, b, level = 1)))
    out <- rbind(out, data.frame(set = match(name, names(sets)) - 1, cut = cut, power = power, n = nrow(b), mean_error = signif(mean(error), 6)))
  }
}
write.csv(out, "mixed_effects.csv", row.names = FALSE, quote = FALSE)
