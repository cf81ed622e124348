# Reference values for the survival package, made with R and its survival
# package. Run: Rscript reference.R in this folder.
#
# units.csv       set,group,entry,exit,failed: the data, so that the test reads the same rows
# km_r.csv        survfit steps with plain, log and log-log limits
# quantiles_r.csv quantile.survfit for B10, B25, B50
# logrank_r.csv   survdiff; for truncated ages the score test of coxph (no ties in that set)
# mcf_data.csv    windows of observation and replacements; mcf_r.csv cumulative hazard with robust error
# ends.csv        competing ends; ends_r.csv Aalen-Johansen with log-log limits
# aml, ovarian, veteran and valveSeat are data sets of R's survival package;
# valveSeat is Nelson's valve-seat data by way of Meeker and Escobar (1998).
# truncated, mixed and ends are invented here from a fixed seed.
options(digits = 15)
suppressMessages(library(survival))
set.seed(20251)
u <- function(set, group, entry, exit, failed) data.frame(set, group, entry, exit, failed)
nk <- read.csv("nist_km_8215_input.csv"); nk <- nk[rep(seq_len(nrow(nk)), nk$count), ]
nw <- read.csv("nist_weibull20.csv"); nw <- nw[rep(seq_len(nrow(nw)), nw$count), ]
n <- 80
age0 <- round(ifelse(runif(n) < .3, 0, runif(n, 0, 6000))) ; life <- round(7000 * rweibull(n, 1) ^ .5)
keep <- life > age0; age0 <- age0[keep]; life <- life[keep]
end <- age0 + round(runif(length(age0), 500, 7000))
# rounded to whole tens so that ages tie
tr <- u("truncated", "all", round(age0, -1), pmax(round(pmin(life, end), -1), round(age0, -1) + 10), as.integer(life <= end))
# without ties, three groups: for the log-rank of truncated ages
m <- 90; g <- rep(c("a", "b", "c"), 30); e2 <- runif(m, 0, 3000); l2 <- e2 + c(a = 3000, b = 2500, c = 1800)[g] * rexp(m)
mx <- u("mixed", g, e2, pmin(l2, e2 + 2500), as.integer(l2 <= e2 + 2500))
all <- rbind(
  u("nist8215", "all", 0, nk$time_h, nk$failed), u("nist8413", "all", 0, nw$time_h, nw$failed),
  u("aml", as.character(aml$x), 0, aml$time, aml$status),
  u("ovarian", paste0("rx", ovarian$rx), 0, ovarian$futime, ovarian$fustat),
  u("veteran", as.character(veteran$celltype), 0, veteran$time, veteran$status), tr, mx)
write.csv(all, "units.csv", row.names = FALSE, quote = FALSE)

km <- NULL; qq <- NULL
for (s in unique(all$set)) for (gr in unique(all$group[all$set == s])) {
  d <- all[all$set == s & all$group == gr, ]
  fit <- function(ct) if (any(d$entry > 0)) survfit(Surv(entry, exit, failed) ~ 1, data = d, conf.type = ct) else survfit(Surv(exit, failed) ~ 1, data = d, conf.type = ct)
  p <- fit("plain"); l <- fit("log"); ll <- fit("log-log")
  km <- rbind(km, data.frame(set = s, group = gr, time = p$time, n.risk = p$n.risk, n.event = p$n.event, surv = p$surv, se = p$std.err * p$surv,
    plain_lo = p$lower, plain_hi = p$upper, log_lo = l$lower, log_hi = l$upper, loglog_lo = ll$lower, loglog_hi = ll$upper))
  for (ct in c("plain", "log", "log-log")) { q <- quantile(fit(ct), c(.1, .25, .5))
    qq <- rbind(qq, data.frame(set = s, group = gr, limits = ct, p = c(.1, .25, .5), q = as.vector(q$quantile), lo = as.vector(q$lower), hi = as.vector(q$upper))) }
}
write.csv(km, "km_r.csv", row.names = FALSE, quote = FALSE); write.csv(qq, "quantiles_r.csv", row.names = FALSE, quote = FALSE)

lr <- NULL
for (s in c("aml", "ovarian", "veteran")) { d <- all[all$set == s, ]; t <- survdiff(Surv(exit, failed) ~ group, data = d)
  lr <- rbind(lr, data.frame(set = s, group = sub("group=", "", names(t$n)), observed = t$obs, expected = t$exp, chisq = t$chisq, df = length(t$n) - 1, p = pchisq(t$chisq, length(t$n) - 1, lower.tail = FALSE))) }
sc <- summary(coxph(Surv(entry, exit, failed) ~ group, data = mx))$sctest
lr <- rbind(lr, data.frame(set = "mixed", group = c("a", "b", "c"), observed = as.vector(tapply(mx$failed, mx$group, sum)), expected = NA, chisq = sc[[1]], df = 2, p = sc[[3]]))
write.csv(lr, "logrank_r.csv", row.names = FALSE, quote = FALSE)

# Repeated replacements. R wants rows of (start, stop], so a second replacement
# on one day is put a thousandth of a day later; the mean and its error are the
# same, the last of the two rows is the one compared.
rows <- function(v, nudge) { v <- v[order(v$id, v$time, -v$status), ]; dup <- duplicated(v[, c("id", "time")]) & v$status == 1; v$time <- v$time + nudge * dup
  s <- ave(v$time, v$id, FUN = function(x) c(0, head(x, -1))); data.frame(id = v$id, from = s, to = v$time, event = v$status) }
mcf <- function(name, r) { f <- survfit(Surv(from, to, event) ~ 1, id = id, data = r); data.frame(set = name, time = f$time, n.risk = f$n.risk, n.event = f$n.event, mcf = f$cumhaz, se = f$std.chaz) }
r1 <- rows(valveSeat, 1e-3); r1 <- r1[r1$to > r1$from, ]
# the same engines, the odd ones first seen at 150 days: replacements before are not known
r2 <- r1; odd <- r2$id %% 2 == 1; r2$from[odd] <- pmax(r2$from[odd], 150); r2 <- r2[r2$to > r2$from, ]
write.csv(rbind(cbind(set = "valveSeat", r1), cbind(set = "late", r2)), "mcf_data.csv", row.names = FALSE, quote = FALSE)
write.csv(rbind(mcf("valveSeat", r1), mcf("late", r2)), "mcf_r.csv", row.names = FALSE, quote = FALSE)

# Competing ends: 1 dark, 2 faded, 0 still burning
k <- 70; a <- 9000 * rweibull(k, 1.2); b <- 8000 * rweibull(k, 4); c0 <- runif(k, 3000, 11000)
ends <- data.frame(set = "plain", entry = 0, exit = round(pmin(a, b, c0), -2), cause = ifelse(pmin(a, b) > c0, 0, ifelse(a < b, 1, 2)))
en <- round(runif(k, 0, 3000), -2); en[1:25] <- 0; e3 <- data.frame(set = "late", entry = en, exit = ends$exit, cause = ends$cause); e3 <- e3[e3$exit > e3$entry, ]
ends <- rbind(ends, e3); write.csv(ends, "ends.csv", row.names = FALSE, quote = FALSE)
aj <- NULL
for (s in c("plain", "late")) { d <- ends[ends$set == s, ]; d$id <- seq_len(nrow(d)); d$what <- factor(d$cause, 0:2, c("on", "dark", "faded"))
  f <- if (s == "plain") survfit(Surv(exit, what) ~ 1, data = d, conf.type = "log-log") else survfit(Surv(entry, exit, what) ~ 1, data = d, id = id, conf.type = "log-log")
  aj <- rbind(aj, data.frame(set = s, time = f$time, n.risk = f$n.risk[, 1], dark = f$pstate[, 2], dark_se = f$std.err[, 2], dark_lo = f$lower[, 2], dark_hi = f$upper[, 2],
    faded = f$pstate[, 3], faded_se = f$std.err[, 3], faded_lo = f$lower[, 3], faded_hi = f$upper[, 3])) }
write.csv(aj, "ends_r.csv", row.names = FALSE, quote = FALSE)

# Failures found at visits, invented from a seed of their own: visits.csv set,entry,exit,failed,gap; gap = 0 is known
# to the hour. visits_r.csv: survfit's interval2 (it stops when the curve moves by less than 5e-5, and takes no late
# entry), and the likelihood of (S(lo)-S(hi))/S(entry) over the innermost intervals maximised directly by optim.
set.seed(20252)
found <- function(set, n, every, late) {
  life <- round(9000 * rweibull(n, 2.5), 1); entry <- if (late) round(ifelse(runif(n) < .4, 0, runif(n, 0, 5000)), 1) else rep(0, n)
  keep <- life > entry; life <- life[keep]; entry <- entry[keep]; n <- length(life)
  first <- round(runif(n, 200, every), 1); end <- round(entry + runif(n, 5000, 12000), 1)
  hi <- entry + first + pmax(0, ceiling((life - entry - first) / every)) * every; lo <- pmax(entry, hi - every)
  exact <- runif(n) < .25; lo[exact] <- hi[exact] <- life[exact]; failed <- hi <= end
  data.frame(set, entry, exit = round(ifelse(failed, hi, end), 1), failed = as.integer(failed), gap = round(ifelse(failed, hi - lo, 0), 1)) }
vis <- rbind(found("visits", 60, 2000, FALSE), found("often", 40, 500, FALSE), found("late", 60, 2000, TRUE))
write.csv(vis, "visits.csv", row.names = FALSE, quote = FALSE)
vr <- NULL
for (s in unique(vis$set)) { d <- vis[vis$set == s, ]; lo <- round(ifelse(d$failed == 1, d$exit - d$gap, d$exit), 1); hi <- ifelse(d$failed == 1, d$exit, Inf)
  if (all(d$entry == 0)) { f <- survfit(Surv(lo, hi, type = "interval2") ~ 1, data = data.frame(lo, hi)); w <- f$n.event > 1e-6
    vr <- rbind(vr, data.frame(set = s, by = "survfit", time = f$time[w], surv = f$surv[w])) }
  # ends at one age: that age itself (1), closed (2: an upper end or an entry), open (3)
  point <- lo == hi; e <- rbind(cbind(lo, ifelse(point, 1, 3)), cbind(hi[is.finite(hi)], 2), if (any(d$entry > 0)) cbind(d$entry[d$entry > 0], 2))
  e <- e[order(e[, 1], e[, 2]), ]; k <- which(e[-1, 2] == 2 & e[-nrow(e), 2] != 2); q <- e[k, 1]; p <- e[k + 1, 1]
  inside <- outer(lo, p, "<") & outer(hi, p, ">=") | outer(ifelse(point, lo, NA), p, "==") %in% TRUE
  beyond <- is.infinite(hi); past <- outer(d$entry, p, "<") | d$entry == 0
  nll <- function(z) { m <- exp(c(z, 0)); m <- m / sum(m); j <- seq_along(p)
    -sum(log(inside %*% m[j] + beyond * m[length(m)]) - log(past %*% m[j] + m[length(m)])) }
  z <- rep(0, length(p)); for (i in 1:30) z <- optim(z, nll, method = "BFGS", control = list(maxit = 2000, reltol = 1e-15))$par
  m <- exp(c(z, 0)); m <- (m / sum(m))[seq_along(p)]; w <- m > 1e-6
  vr <- rbind(vr, data.frame(set = s, by = "optim", time = ((q + p) / 2)[w], surv = (1 - cumsum(m))[w])) }
write.csv(vr, "visits_r.csv", row.names = FALSE, quote = FALSE)
