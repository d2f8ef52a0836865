"""Reports: a verdict and its case become text. They arrange and word; they decide nothing."""
