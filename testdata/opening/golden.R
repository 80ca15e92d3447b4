# Independent check of the opening line: the same four-model mixture, worked
# out from precision matrices and mvtnorm instead of one reading at a time.
# Reads cases.csv and readings.csv beside it and writes golden.csv to stdout.
# Run: Rscript golden.R DIRECTORY > golden.csv   (R 4.2, mvtnorm 1.1)
suppressMessages(library(mvtnorm))
dir <- commandArgs(trailingOnly = TRUE)[1]
cases <- read.csv(file.path(dir, "cases.csv"))
readings <- read.csv(file.path(dir, "readings.csv"))

posterior <- function(k, r) {
  b0 <- if (k$still == 1) 0 else -12 * k$alpha_per_f * k$length_ft * cos(k$skew_deg * pi / 180)
  tape <- ifelse(r$tape_in > 0, r$tape_in, 1 / 16)
  tau <- ifelse(r$air == 1, 12, 6)
  noise <- k$noise_factor * (tape^2 + (b0 * tau)^2)
  X <- cbind(1, r$temp_f - mean(r$temp_f), r$year - mean(r$year))
  slope <- if (k$still == 1) list(mean = c(0, 0), sd = c(0, 0.005)) else
    list(mean = c(b0, 0), sd = abs(b0) * c(0.25, 0.1))
  parts <- list()
  for (i in 1:2) for (j in 1:2) {
    m0 <- c(0, slope$mean[i], 0)
    L <- diag(c(10, slope$sd[i], c(0.01, 0.1)[j])) # prior standard deviations
    miss <- r$gap_in - X %*% m0
    info <- L %*% t(X) %*% (X / noise) %*% L
    V <- L %*% solve(diag(3) + info) %*% L
    pull <- t(X) %*% (miss / noise)
    logml <- -(nrow(r) * log(2 * pi) + sum(log(noise)) + as.numeric(determinant(diag(3) + info)$modulus) +
      sum(miss^2 / noise) - sum(pull * (V %*% pull))) / 2
    parts[[length(parts) + 1]] <- list(
      logw = log(c(0.97, 0.03)[i]) + log(c(0.9, 0.1)[j]) + logml,
      m = as.vector(m0 + V %*% pull), V = V)
  }
  logw <- sapply(parts, function(p) p$logw)
  w <- exp(logw - max(logw)); w <- w / sum(w)
  list(w = w, parts = parts, tbar = mean(r$temp_f), ybar = mean(r$year))
}

mixture <- function(post, k, shift = 0) {
  m <- sapply(post$parts, function(p) sum(k * p$m)) + shift
  s <- sqrt(sapply(post$parts, function(p) as.numeric(t(k) %*% p$V %*% k)))
  cdf <- function(x) sum(post$w * pnorm(x, m, s))
  quant <- function(q) uniroot(function(x) cdf(x) - q, range(qnorm(q, m, s)) + c(-1e-6, 1e-6), tol = 1e-14, maxiter = 1e4)$root
  mean <- sum(post$w * m)
  list(mean = mean, sd = sqrt(sum(post$w * (s^2 + (m - mean)^2))), cdf = cdf, quant = quant)
}

# Out of range by a year, one draw of (a, b, c): integrate over c, and the pair
# (coldest opening, hottest opening) given c by mvtnorm's bivariate routine.
outby <- function(post, k, arms, shift, year) {
  total <- 0
  for (i in seq_along(post$parts)) {
    p <- post$parts[[i]]
    if (post$w[i] < 1e-9) next
    A <- rbind(c(1, arms[1]), c(1, arms[2]))
    lead <- p$V[1:2, 3] / p$V[3, 3]
    cov <- A %*% (p$V[1:2, 1:2] - lead %*% t(p$V[1:2, 3])) %*% t(A)
    inside <- function(c) sapply(c, function(cc) {
      mu <- as.vector(A %*% (p$m[1:2] + lead * (cc - p$m[3])))
      ends <- cc * (c(k$now, year) - post$ybar)
      u <- (k$seal_max_in - shift - max(ends) - mu[1]) / sqrt(cov[1, 1])
      l <- (k$seal_min_in - min(ends) - mu[2]) / sqrt(cov[2, 2])
      rho <- cov[1, 2] / sqrt(cov[1, 1] * cov[2, 2])
      if (rho > 1 - 1e-12) return(max(0, pnorm(u) - pnorm(l))) # one and the same
      both <- pmvnorm(upper = c(u, l), corr = matrix(c(1, rho, rho, 1), 2), algorithm = TVPACK(1e-12))
      pnorm(u) - as.numeric(both) # P(X <= u) - P(X <= u, Y <= l)
    })
    sd <- sqrt(p$V[3, 3])
    f <- function(c) inside(c) * dnorm(c, p$m[3], sd)
    ends <- sort(unique(c(pmin(pmax(0, p$m[3] - 8 * sd), p$m[3] + 8 * sd), p$m[3] + sd * seq(-8, 8, by = 2))))
    for (e in seq_len(length(ends) - 1))
      total <- total + post$w[i] * integrate(f, ends[e], ends[e + 1], rel.tol = 1e-10, abs.tol = 1e-12, subdivisions = 2000)$value
  }
  1 - total
}

put <- function(case, what, value) cat(sprintf("%s,%s,%.17g\n", case, what, value))
cat("case,quantity,value\n")
for (n in seq_len(nrow(cases))) {
  k <- cases[n, ]
  post <- posterior(k, readings[readings$case == k$case, ])
  for (i in 1:4) put(k$case, paste0("weight", i), post$w[i])
  arms <- k$load_factor * (c(k$min_f, k$max_f) - post$tbar)
  shift <- k$shrinkage_in * cos(k$skew_deg * pi / 180)
  for (side in 1:2) for (year in k$now + c(0, 10)) {
    o <- mixture(post, c(1, arms[side], year - post$ybar), if (side == 1) shift else 0)
    name <- paste0(c("cold", "hot")[side], year - k$now)
    put(k$case, paste0(name, "_mean"), o$mean)
    put(k$case, paste0(name, "_sd"), o$sd)
    for (q in c(0.1, 0.5, 0.9)) put(k$case, paste0(name, "_q", 100 * q), o$quant(q))
    put(k$case, paste0(name, "_below_min"), o$cdf(k$seal_min_in))
    put(k$case, paste0(name, "_below_max"), o$cdf(k$seal_max_in))
  }
  for (year in c(0, 1, 5, 20)) put(k$case, paste0("outby", year), outby(post, k, arms, shift, k$now + year))
}
