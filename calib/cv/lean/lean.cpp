#include <opencv2/imgcodecs.hpp>

static void absent() { CV_Error(cv::Error::StsNotImplemented, "built without picture formats"); }

namespace cv {
Mat imread(const String &, int) { absent(); return Mat(); }
bool imreadmulti(const String &, std::vector<Mat> &, int) { absent(); return false; }
bool imreadmulti(const String &, std::vector<Mat> &, int, int, int) { absent(); return false; }
bool imwrite(const String &, InputArray, const std::vector<int> &) { absent(); return false; }
Mat imdecode(InputArray, int) { absent(); return Mat(); }
Mat imdecode(InputArray, int, Mat *) { absent(); return Mat(); }
bool imencode(const String &, InputArray, std::vector<uchar> &, const std::vector<int> &) { absent(); return false; }
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
