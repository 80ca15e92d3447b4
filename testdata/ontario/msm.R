# What R's msm makes of the Ontario panel, beside what reseal makes of it.
#
#   Rscript msm.R > msm.csv     some seconds; R 4.2 and msm 1.7
#
# Run in this folder. Each row is -2 log L of one model: at the starting values
# below, and at the optimum that msm finds. With rating errors msm did not end
# within ten minutes here, so that only the start is compared.
suppressWarnings(suppressMessages(library(msm)))
d <- read.csv(gzfile("../open/ontario-bridge-index-a.csv.gz"), strip.white = TRUE)
d <- unique(d[, c("bridge", "year", "state")]) # six rows are there twice
d$subject <- as.integer(factor(d$bridge, levels = unique(d$bridge)))
d <- d[order(d$subject, d$year), ]
d$first <- as.integer(!duplicated(d$subject))

Q <- rbind(c(0, .05, 0), c(.2, 0, .1), c(0, .3, 0))
Q1 <- rbind(c(0, .05, 0), c(0, 0, .1), 0)
E <- rbind(c(0, .05, 0), c(.05, 0, .05), c(0, .05, 0))
E1 <- rbind(c(0, .05, .05), c(.05, 0, .05), c(.05, .05, 0))
# The first rating is true here. msm multiplies by a probability of it all the
# same; with one third for each class that is a constant, which is taken out.
thirds <- rep(1 / 3, 3)
constant <- 2 * sum(table(d$subject) > 1) * log(3) # of those seen twice: others tell nothing
# plain arguments, because msm evaluates some of them in the data
both <- function(...) msm(state ~ year, subject = subject, data = d, qmatrix = Q, ...)$minus2loglik
bothError <- function(...) msm(state ~ year, subject = subject, data = d, qmatrix = Q, ematrix = E, obstrue = first, initprobs = thirds, ...)$minus2loglik - constant
oneError <- function(...) msm(state ~ year, subject = subject, data = d, qmatrix = Q1, ematrix = E1, obstrue = first, initprobs = thirds, ...)$minus2loglik - constant
full <- list(fnscale = 7000, reltol = 1e-14, maxit = 5000)
cat("model,at_start,optimum\n")
at <- function(name, fit, optimum = NA) suppressWarnings(
  cat(sprintf("%s,%.10f,%s\n", name, fit(fixedpars = TRUE), if (is.na(optimum)) "" else sprintf("%.6f", optimum))))
at("both ways", both, both(control = full))
at("both ways and rating error", bothError)
at("one way and rating error", oneError)
