package scene

import "testing"

// A photo is what a person waits for, three megapixels with the head 20 µm per
// pixel.
func BenchmarkRender(b *testing.B) {
	s := Spec{Width: 2000, Height: 1500, MMPerPx: 0.02, Card: &Card{}, Specks: 10, Hairs: 2, Light: Softbox(60, 5000),
		Pieces: []Piece{{Head: Head{Style: Ball, WidthMM: 7.5, CollarMM: 3.2, Lips: 2, SocketMM: 2.2, SeamMM: 0.03},
			Wire: Wire{WidthMM: 0.8, ShankMM: 7, GapMM: 6, RingMM: 1.4},
			Coat: Coat{Flake: ColourShift(390), FlakeShare: 0.8, Sparkle: 0.6, PeelUM: 5, PeelMM: 1.2}, X: -4, TurnDeg: 20}},
		Camera: Camera{BlurPx: 0.8, FullWell: 8000, ReadNoise: 6}}
	b.ReportAllocs()
	for b.Loop() {
		Render(s)
	}
}
