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
