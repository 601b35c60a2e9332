package study

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Repeatability is how far the same piece scatters when it is placed and
// photographed again, pooled over pieces.
type Repeatability struct {
	SD     float64  `json:"sd"` // standard deviation, in the measure's unit
	DF     int      `json:"df"` // differences it rests on
	SDIn   Interval `json:"interval"`
	Pieces int      `json:"pieces"`
}

// repeatability pools the scatter within pieces; repeats[i] are the results of piece
// i, as many as there are. It needs one piece measured twice.
func repeatability(repeats [][]float64) (Repeatability, error) {
	sum, df, pieces := 0.0, 0, 0
	for _, r := range repeats {
		if len(r) < 2 {
			continue
		}
		sum += stat.Variance(r, nil) * float64(len(r)-1)
		df += len(r) - 1
		pieces++
	}
	if df == 0 {
		return Repeatability{}, errors.New("repeatability needs a piece measured at least twice")
	}
	sd := math.Sqrt(sum / float64(df))
	return Repeatability{sd, df, sdInterval(sd, df), pieces}, nil
}

// sdInterval is the interval of a standard deviation of normal values.
func sdInterval(sd float64, df int) Interval {
	chi2, tail := distuv.ChiSquared{K: float64(df)}, (1-Confidence)/2
	n := float64(df)
	return Interval{sd * math.Sqrt(n/chi2.Quantile(1-tail)), sd * math.Sqrt(n/chi2.Quantile(tail))}
}

// Gauge splits the variance of a gauge study into its sources, each as a
// standard deviation in the measure's unit.
type Gauge struct {
	Repeatability   float64 `json:"repeatability"`   // same piece, same operator
	Operator        float64 `json:"operator"`        // between operators
	Interaction     float64 `json:"interaction"`     // operators differing on some pieces; 0 when pooled
	Reproducibility float64 `json:"reproducibility"` // operator and interaction together
	Measurement     float64 `json:"measurement"`     // repeatability and reproducibility together
	Piece           float64 `json:"piece"`           // between pieces
	Total           float64 `json:"total"`
	Pooled          bool    `json:"pooled"` // interaction was not significant and went into repeatability
	InteractionP    float64 `json:"interaction_p"`
	// Categories is how many classes of pieces the measurement can tell apart.
	Categories int `json:"categories"`
}

// poolAbove is the P of the interaction's F test above which it is pooled with
// repeatability, as the published worked example does. Common practice.
const poolAbove = 0.25

// gaugeStudy is the two-way analysis of variance of results[piece][operator][trial],
// with pieces and operators as random samples. It needs at least two of each
// and as many trials in every cell. Negative variance estimates become 0.
//
// AIAG, Measurement Systems Analysis, 4th ed. (2010), chapter III, ANOVA method.
func gaugeStudy(results [][][]float64) (Gauge, error) {
	if len(results) < 2 || len(results[0]) < 2 || len(results[0][0]) < 2 {
		return Gauge{}, errors.New("a gauge study needs at least two pieces, two operators and two trials of each")
	}
	p, o, r := len(results), len(results[0]), len(results[0][0])
	pieceSum, operatorSum := make([]float64, p), make([]float64, o)
	sum, n := 0.0, float64(p*o*r)
	for i, byOperator := range results {
		if len(byOperator) != o {
			return Gauge{}, errors.New("a gauge study needs every piece measured by every operator")
		}
		for j, trials := range byOperator {
			if len(trials) != r {
				return Gauge{}, errors.New("a gauge study needs the same number of trials everywhere")
			}
			for _, x := range trials {
				pieceSum[i] += x
				operatorSum[j] += x
				sum += x
			}
		}
	}
	mean := sum / n
	var ssPiece, ssOperator, ssCell, ssWithin float64
	for _, s := range pieceSum {
		d := s/float64(o*r) - mean
		ssPiece += float64(o*r) * d * d
	}
	for _, s := range operatorSum {
		d := s/float64(p*r) - mean
		ssOperator += float64(p*r) * d * d
	}
	for _, byOperator := range results {
		for _, trials := range byOperator {
			m := stat.Mean(trials, nil)
			ssCell += float64(r) * (m - mean) * (m - mean)
			for _, x := range trials {
				ssWithin += (x - m) * (x - m)
			}
		}
	}
	ssInteraction := math.Max(0, ssCell-ssPiece-ssOperator) // rounding can leave −1e-17
	dfPiece, dfOperator := float64(p-1), float64(o-1)
	dfInteraction, dfWithin := dfPiece*dfOperator, float64(p*o*(r-1))
	msInteraction, msWithin := ssInteraction/dfInteraction, ssWithin/dfWithin

	g := Gauge{InteractionP: 1}
	if msInteraction > 0 {
		g.InteractionP = distuv.F{D1: dfInteraction, D2: dfWithin}.Survival(msInteraction / msWithin)
	}
	against, vInteraction := msInteraction, math.Max(0, (msInteraction-msWithin)/float64(r))
	if g.InteractionP > poolAbove {
		g.Pooled, vInteraction = true, 0
		msWithin = (ssInteraction + ssWithin) / (dfInteraction + dfWithin)
		against = msWithin
	}
	vOperator := math.Max(0, (ssOperator/dfOperator-against)/float64(p*r))
	vPiece := math.Max(0, (ssPiece/dfPiece-against)/float64(o*r))
	g.Repeatability, g.Operator, g.Interaction = math.Sqrt(msWithin), math.Sqrt(vOperator), math.Sqrt(vInteraction)
	g.Reproducibility = math.Sqrt(vOperator + vInteraction)
	g.Measurement = math.Sqrt(msWithin + vOperator + vInteraction)
	g.Piece = math.Sqrt(vPiece)
	g.Total = math.Sqrt(msWithin + vOperator + vInteraction + vPiece)
	g.Categories = categories(g.Piece, g.Measurement)
	return g, nil
}

// categories is how many classes of pieces a measurement tells apart; 0 when
// it does not scatter at all.
func categories(piece, measurement float64) int {
	if measurement == 0 {
		return 0
	}
	return max(1, int(1.41*piece/measurement)) // the manual's 1.41, cut to a whole number
}
