# What R's msm makes of the Ontario panel, beside what reseal makes of it.
#
#   Rscript msm.R > msm.csv     some seconds; R 4.2 and msm 1.7
#
# Run in this folder. Each row is -2 log L of one model: at the starting values
# below, and at the optimum that msm finds.
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
fit <- function(...) suppressWarnings(msm(state ~ year, subject = subject, data = d, ...))$minus2loglik
full <- list(fnscale = 7000, reltol = 1e-14, maxit = 5000)
cat("model,at_start,optimum\n")
row <- function(name, ...) cat(sprintf("%s,%.10f,%.6f\n", name, fit(fixedpars = TRUE, ...), fit(control = full, ...)))
row("both ways", qmatrix = Q)
row("both ways and rating error", qmatrix = Q, ematrix = E, obstrue = d$first)
row("one way and rating error", qmatrix = Q1, ematrix = E1, obstrue = d$first)
