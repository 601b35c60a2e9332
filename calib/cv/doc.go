// Package cv is the only part of jigloupe that touches OpenCV: five filters of
// its imgproc library, through a thin layer of C++ that lets no exception out.
// gocv would bring the library of picture formats along, whose loading alone
// takes longer than a program that only prints its help may take.
package cv
