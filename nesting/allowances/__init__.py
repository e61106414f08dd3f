"""From net line to cut line: seam and hem allowances, edge by edge."""
