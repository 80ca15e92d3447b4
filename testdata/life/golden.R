# Reference values for seal lives, from the R package survival (Therneau) and,
# for left truncation, from R's own dweibull, pweibull and optim.
#
#   Rscript testdata/life/golden.R DIR
#
# run from the top of the repository, writes DIR/golden.csv and
# DIR/replacements.csv, and the data sets that are not kept here, as they come
# with survival: DIR/lung.csv, DIR/genfan.csv and DIR/valveseat.csv. Copy
# golden.csv and replacements.csv to testdata/life to renew the committed values.
if (!requireNamespace("survival", quietly = TRUE)) quit(status = 3)
suppressMessages(library(survival))
out <- commandArgs(trailingOnly = TRUE)[1]
here <- "testdata/life"

# Sets from the package, in the same columns as those kept here.
rightCensored <- function(time, failed)
  data.frame(left = time, right = ifelse(failed, time, NA), weight = 1)
write <- function(d, name)
  write.csv(d, file.path(out, name), row.names = FALSE, quote = FALSE, na = "")
write(rightCensored(lung$time, lung$status == 2), "lung.csv")
write(rightCensored(genfan$hours, genfan$status == 1), "genfan.csv")
write(valveSeat, "valveseat.csv")

number <- function(x) sprintf("%.12g", x)
rows <- list()
add <- function(...) rows[[length(rows) + 1]] <<- c(...)

tight <- survreg.control(maxiter = 500, rel.tolerance = 1e-15)
for (name in c("nist", "cracks", "turbine", "mixed", "ovarian", "shock", "lung", "genfan")) {
  dir <- if (name %in% c("lung", "genfan")) out else here
  d <- read.csv(file.path(dir, paste0(name, ".csv")))
  for (family in c("weibull", "lognormal", "exponential")) {
    f <- survreg(Surv(left, right, type = "interval2") ~ 1, d, weights = weight,
                 dist = family, control = tight)
    v <- if (family == "exponential") c(f$var[1, 1], 0, 0) else f$var[c(1, 2, 4)]
    add(name, family, number(c(coef(f), log(f$scale), sqrt(v[1]), sqrt(v[3]), v[2], f$loglik[1])))
  }
}

# Left truncation, which survreg does not know: the likelihood written out, and
# the information by optimHess. The ages are NIST's, the entries invented.
d <- read.csv(file.path(here, "truncated.csv"))
open <- is.na(d$right)
minus <- function(p) {
  eta <- exp(p[1]); beta <- exp(-p[2])
  -sum(d$weight * (ifelse(open, pweibull(d$left, beta, eta, FALSE, TRUE), dweibull(d$left, beta, eta, TRUE)) -
                   pweibull(d$entry, beta, eta, FALSE, TRUE)))
}
f <- optim(c(6, 0), minus, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000, parscale = c(0.1, 0.1)))
v <- solve(optimHess(f$par, minus, control = list(ndeps = c(1e-4, 1e-4))))
add("truncated", "weibull", number(c(f$par, sqrt(v[1, 1]), sqrt(v[2, 2]), v[1, 2], -f$value)))

g <- as.data.frame(do.call(rbind, rows))
names(g) <- c("case", "family", "mu", "log_sigma", "mu_se", "log_sigma_se", "covariance", "loglik")
write(g, "golden.csv")

# Replacements per engine (valve seats). survfit wants one row for each stretch
# between two replacements; one engine had two on its last day but one, which a
# hundredth of a day keeps apart.
v <- valveSeat
first <- !duplicated(v$id)
v$from <- ifelse(first, 0, c(0, head(v$time, -1)))
double <- which(v$from == v$time & !first)
v$from[double] <- v$from[double] - 0.01
v$time[double - 1] <- v$time[double - 1] - 0.01
f <- survfit(Surv(from, time, status) ~ 1, v, id = id)
keep <- f$n.event > 0
write(data.frame(age = f$time[keep], mean = number(f$cumhaz[keep]), se = number(f$std.chaz[keep])),
      "replacements.csv")
