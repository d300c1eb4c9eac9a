module crimprule

go 1.26

require gocv.io/x/gocv v0.31.0
