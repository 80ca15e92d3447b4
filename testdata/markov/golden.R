# Values of R's msm package for the tests of forecast/markov.
#
#   Rscript golden.R panel  > panel.csv     an invented panel
#   Rscript golden.R cav    > FILE          msm's heart transplant data, never kept here
#   Rscript golden.R values > golden.json   what msm makes of both; takes a minute
#
# Run in this folder, with R 4.2 and msm 1.7. Fits run to full convergence:
# with msm's own settings they stop some 1e-5 above the optimum.
suppressWarnings(suppressMessages(library(msm)))
what <- commandArgs(TRUE)[1]

invent <- function() { # 120 subjects seen 5 times, one covariate, moves both ways
  set.seed(1985)
  rates <- rbind(c(0, .30, 0, .03), c(.10, 0, .25, .05), c(0, .08, 0, .20), 0)
  rows <- list()
  for (i in 1:120) {
    x <- i %% 2
    seen <- round(cumsum(c(0, runif(4, .5, 3))), 3)
    t <- 0; state <- 1; k <- 1
    while (k <= 5) {
      q <- rates[state, ] * exp(.4 * x)
      stay <- if (sum(q) > 0) rexp(1, sum(q)) else Inf
      while (k <= 5 && seen[k] < t + stay) {
        rows[[length(rows) + 1]] <- c(i, seen[k], state, x)
        k <- if (state == 4) 6 else k + 1
      }
      t <- t + stay
      if (is.finite(stay)) state <- sample(4, 1, prob = q)
    }
  }
  d <- as.data.frame(do.call(rbind, rows))
  names(d) <- c("subject", "time", "state", "x")
  d
}

full <- list(fnscale = 4000, reltol = 1e-16, maxit = 5000)
all7 <- function(v) { # 1-2, 1-4, 2-1, 2-3, 2-4, 3-2, 3-4
  Q <- matrix(0, 4, 4)
  Q[cbind(c(1, 1, 2, 2, 2, 3, 3), c(2, 4, 1, 3, 4, 2, 4))] <- v
  Q
}
moves7 <- function(f, x = 0) {
  Q <- qmatrix.msm(f, covariates = x, ci = "none")
  Q[cbind(c(1, 1, 2, 2, 2, 3, 3), c(2, 4, 1, 3, 4, 2, 4))]
}
number <- function(x) if (length(x) == 1) sprintf("%.14g", x) else
  paste0("[", paste(sprintf("%.14g", x), collapse = ", "), "]")

if (what == "panel") {
  write.csv(invent(), row.names = FALSE, quote = FALSE)
} else if (what == "cav") {
  d <- cav[, c("PTNUM", "years", "state", "sex")]
  d$years <- sprintf("%.17g", d$years)
  write.csv(d, row.names = FALSE, quote = FALSE)
} else {
  g <- list()
  q0 <- all7(c(.25, .25, .166, .166, .166, .25, .25))
  fit <- function(...) msm(state ~ years, subject = PTNUM, data = cav, qmatrix = q0, control = full, ...)
  g$cavStartExact <- msm(state ~ years, subject = PTNUM, data = cav, qmatrix = q0, deathexact = 4, fixedpars = TRUE)$minus2loglik
  g$cavStartPanel <- msm(state ~ years, subject = PTNUM, data = cav, qmatrix = q0, fixedpars = TRUE)$minus2loglik
  f <- fit(deathexact = 4)
  g$cavExact <- f$minus2loglik
  g$cavExactRates <- moves7(f)
  g$cavExactLogSE <- sqrt(diag(solve(f$opt$hessian / 2)))
  f <- fit()
  g$cavPanel <- f$minus2loglik
  g$cavPanelRates <- moves7(f)
  f <- fit(deathexact = 4, covariates = ~sex, constraint = list(sex = rep(1, 7)))
  g$cavSexShared <- f$minus2loglik
  g$cavSexSharedRatio <- hazard.msm(f)$sex[1, 1]
  g$cavConstrained <- fit(deathexact = 4, qconstraint = c(1, 1, 2, 2, 2, 3, 3))$minus2loglik

  oneway <- rbind(c(0, .148, 0, .0171), c(0, 0, .202, .081), c(0, 0, 0, .126), 0)
  rating <- rbind(c(0, .1, 0, 0), c(.1, 0, .1, 0), c(0, .1, 0, 0), 0)
  hidden <- function(...) msm(state ~ years, subject = PTNUM, data = cav, qmatrix = oneway,
    ematrix = rating, deathexact = 4, ...)
  firstTrue <- function(...) msm(state ~ years, subject = PTNUM, data = cav, qmatrix = oneway,
    ematrix = rating, deathexact = 4, obstrue = firstobs, ...)
  g$hiddenStart <- hidden(fixedpars = TRUE)$minus2loglik
  g$hiddenStartFirstTrue <- firstTrue(fixedpars = TRUE)$minus2loglik
  hiddenRates <- function(f) qmatrix.msm(f, ci = "none")[cbind(c(1, 1, 2, 2, 3), c(2, 4, 3, 4, 4))]
  hiddenErrors <- function(f) ematrix.msm(f, ci = "none")[cbind(c(1, 2, 2, 3), c(2, 1, 3, 2))]
  f <- hidden(control = full)
  g$hidden <- f$minus2loglik
  g$hiddenRates <- hiddenRates(f)
  g$hiddenErrors <- hiddenErrors(f)
  f <- firstTrue(control = full)
  g$hiddenFirstTrue <- f$minus2loglik
  g$hiddenFirstTrueRates <- hiddenRates(f)
  g$hiddenFirstTrueErrors <- hiddenErrors(f)

  d <- read.csv("panel.csv")
  p0 <- all7(c(.2, .05, .1, .2, .05, .1, .2))
  g$panelStart <- msm(state ~ time, subject = subject, data = d, qmatrix = p0, fixedpars = TRUE)$minus2loglik
  g$panelStartExact <- msm(state ~ time, subject = subject, data = d, qmatrix = p0, deathexact = 4, fixedpars = TRUE)$minus2loglik
  f <- msm(state ~ time, subject = subject, data = d, qmatrix = p0, control = full, center = FALSE,
    covariates = ~x, constraint = list(x = rep(1, 7)))
  g$panelShared <- f$minus2loglik
  g$panelSharedRates <- moves7(f, 0)
  g$panelSharedRatio <- hazard.msm(f)$x[1, 1]
  g$panelHidden <- msm(state ~ time, subject = subject, data = d, qmatrix = oneway, ematrix = rating, fixedpars = TRUE)$minus2loglik
  cat("{\n", paste0("  \"", names(g), "\": ", sapply(g, number), collapse = ",\n"), "\n}\n", sep = "")
}
