// What jigloupe uses of OpenCV, with C's calling convention. Pixels lie row by
// row without gaps, in memory of the caller. Each returns 0, or writes what went
// wrong into says, 200 bytes at most, and returns 1: no exception gets out.

#ifdef __cplusplus
extern "C" {
#endif

// smooth is a Gaussian filter with a reflected border. Where shrink is above 1
// it works on a copy reduced by that factor.
int smooth(const float *from, float *to, int width, int height, double sigma, int shrink, char *says);

// distance gives the distance of each non-zero pixel to the nearest zero.
int distance(const unsigned char *mask, float *to, int width, int height, char *says);

// blobs labels the 8-connected parts, and what lies outside as 0, which comes
// first in all. The caller frees all.
struct blob {
	int left, top, width, height, area;
	double x, y;
};
int blobs(const unsigned char *mask, int *labels, int width, int height, struct blob **all, int *count, char *says);

// outline gives the longest outer border as x, y, x, y. The caller frees xy.
int outline(const unsigned char *mask, int width, int height, int **xy, int *count, char *says);

#ifdef __cplusplus
}
#endif
