# The fit of R's msm to compare speeds with; see TestSpeedBesideMsm.
#
#   Rscript speed.R panel > FILE   an invented panel: 20,000 subjects seen at 7
#                                  irregular times, two covariates
#   Rscript speed.R fit FILE       seconds of wall clock and of processor that
#                                  msm's fit takes, and its -2 log L
suppressWarnings(suppressMessages(library(msm)))
args <- commandArgs(TRUE)
if (args[1] == "panel") {
  set.seed(20)
  n <- 20000
  rates <- c(.2, .15, .1)
  effect <- rbind(c(.3, .2, .1), c(-.2, .1, .3))
  one <- function(i) {
    x <- rbinom(2, 1, c(.5, .3))
    t <- cumsum(c(0, sample(180:1300, 6, replace = TRUE))) / 365.25
    left <- cumsum(rexp(3, rates * exp(x %*% effect)))
    cbind(i, t, 1 + findInterval(t, left), x[1], x[2])
  }
  d <- as.data.frame(do.call(rbind, lapply(1:n, one)))
  names(d) <- c("subject", "time", "state", "x1", "x2")
  d$time <- sprintf("%.6f", d$time)
  write.csv(d, row.names = FALSE, quote = FALSE)
} else {
  d <- read.csv(args[2])
  Q <- rbind(c(0, .1, 0, 0), c(0, 0, .1, 0), c(0, 0, 0, .1), 0)
  took <- system.time(suppressWarnings(
    f <- msm(state ~ time, subject = subject, data = d, qmatrix = Q, covariates = ~ x1 + x2)))
  cat(sprintf("%.3f %.3f %.10f\n", took[3], took[1] + took[2], f$minus2loglik))
}
