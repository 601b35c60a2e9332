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
// many unknowns, products of large matrices, windows, files of its own, several threads.
#define ABSENT(name) void name() { absent(); }
extern "C" {
ABSENT(sgels_) ABSENT(sgeqrf_) ABSENT(sgesdd_) ABSENT(sgesv_) ABSENT(sgetrf_) ABSENT(sposv_) ABSENT(spotrf_)
ABSENT(dgels_) ABSENT(dgeqrf_) ABSENT(dgesdd_) ABSENT(dgesv_) ABSENT(dgetrf_) ABSENT(dposv_) ABSENT(dpotrf_)
ABSENT(cblas_sgemm) ABSENT(cblas_dgemm) ABSENT(cblas_cgemm) ABSENT(cblas_zgemm)
ABSENT(glXGetCurrentContext) ABSENT(glXGetCurrentDisplay) ABSENT(glXGetProcAddressARB)
ABSENT(gzclose) ABSENT(gzeof) ABSENT(gzgets) ABSENT(gzopen) ABSENT(gzputs) ABSENT(gzrewind)
ABSENT(_ZN3tbb6detail2r110deallocateERNS0_2d117small_object_poolEPvmRKNS2_14execution_dataE)
ABSENT(_ZN3tbb6detail2r110initializeERNS0_2d118task_group_contextE)
ABSENT(_ZN3tbb6detail2r114execution_slotEPKNS0_2d114execution_dataE)
ABSENT(_ZN3tbb6detail2r114notify_waitersEm)
ABSENT(_ZN3tbb6detail2r116execute_and_waitERNS0_2d14taskERNS2_18task_group_contextERNS2_12wait_contextES6_)
ABSENT(_ZN3tbb6detail2r124cache_aligned_deallocateEPv)
ABSENT(_ZN3tbb6detail2r128is_group_execution_cancelledERNS0_2d118task_group_contextE)
ABSENT(_ZN3tbb6detail2r14waitERNS0_2d112wait_contextERNS2_18task_group_contextE)
ABSENT(_ZN3tbb6detail2r15resetERNS0_2d118task_group_contextE)
ABSENT(_ZN3tbb6detail2r15spawnERNS0_2d14taskERNS2_18task_group_contextE)
ABSENT(_ZN3tbb6detail2r17destroyERNS0_2d118task_group_contextE)
ABSENT(_ZN3tbb6detail2r17executeERNS0_2d115task_arena_baseERNS2_13delegate_baseE)
ABSENT(_ZN3tbb6detail2r18allocateERPNS0_2d117small_object_poolEm)
ABSENT(_ZN3tbb6detail2r18allocateERPNS0_2d117small_object_poolEmRKNS2_14execution_dataE)

// What it asks of TBB to have one thread.
void _ZN3tbb6detail2r110initializeERNS0_2d115task_arena_baseE() {}
void _ZN3tbb6detail2r19terminateERNS0_2d115task_arena_baseE() {}
int _ZN3tbb6detail2r115max_concurrencyEPKNS0_2d115task_arena_baseE() { return 1; }
}
