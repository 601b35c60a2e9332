#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

static void absent() { CV_Error(cv::Error::StsNotImplemented, "left out of this program, see package lean"); }

namespace cv {
Mat imread(const String &, int) { absent(); return Mat(); }
bool imreadmulti(const String &, std::vector<Mat> &, int) { absent(); return false; }
bool imreadmulti(const String &, std::vector<Mat> &, int, int, int) { absent(); return false; }
bool imwrite(const String &, InputArray, const std::vector<int> &) { absent(); return false; }
Mat imdecode(InputArray, int) { absent(); return Mat(); }
Mat imdecode(InputArray, int, Mat *) { absent(); return Mat(); }
bool imencode(const String &, InputArray, std::vector<uchar> &, const std::vector<int> &) { absent(); return false; }

// Turning and bending pictures, too, which fills tables at the start.
void remap(InputArray, OutputArray, InputArray, InputArray, int, int, const Scalar &) { absent(); }
void warpAffine(InputArray, OutputArray, InputArray, Size, int, int, const Scalar &) { absent(); }
void warpPerspective(InputArray, OutputArray, InputArray, Size, int, int, const Scalar &) { absent(); }
void linearPolar(InputArray, OutputArray, Point2f, double, int) { absent(); }
void logPolar(InputArray, OutputArray, Point2f, double, int) { absent(); }
void warpPolar(InputArray, OutputArray, Size, Point2f, double, int) { absent(); }
void convertMaps(InputArray, InputArray, OutputArray, OutputArray, int, bool) { absent(); }
void invertAffineTransform(InputArray, OutputArray) { absent(); }
Matx23d getRotationMatrix2D_(Point2f, double, double) { absent(); return {}; }
Mat getAffineTransform(const Point2f *, const Point2f *) { absent(); return Mat(); }
Mat getAffineTransform(InputArray, InputArray) { absent(); return Mat(); }
Mat getPerspectiveTransform(const Point2f *, const Point2f *, int) { absent(); return Mat(); }
Mat getPerspectiveTransform(InputArray, InputArray, int) { absent(); return Mat(); }
}

// OpenCV's own library refers to these for what is never asked of it: equations in
// many unknowns, products of large matrices, windows.
#define ABSENT(name) void name() { absent(); }
extern "C" {
ABSENT(sgels_) ABSENT(sgeqrf_) ABSENT(sgesdd_) ABSENT(sgesv_) ABSENT(sgetrf_) ABSENT(sposv_) ABSENT(spotrf_)
ABSENT(dgels_) ABSENT(dgeqrf_) ABSENT(dgesdd_) ABSENT(dgesv_) ABSENT(dgetrf_) ABSENT(dposv_) ABSENT(dpotrf_)
ABSENT(cblas_sgemm) ABSENT(cblas_dgemm) ABSENT(cblas_cgemm) ABSENT(cblas_zgemm)
ABSENT(glXGetCurrentContext) ABSENT(glXGetCurrentDisplay) ABSENT(glXGetProcAddressARB)
}
