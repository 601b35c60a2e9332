#include "opencv.h"

#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <functional>

#include <opencv2/imgproc.hpp>

namespace {

// Photos are measured in parallel; threads inside OpenCV would only get in
// their way.
const bool alone = (cv::setNumThreads(1), true);

int guarded(char *says, const std::function<void()> &work) {
	try {
		work();
		return 0;
	} catch (const std::exception &e) {
		std::snprintf(says, 200, "%s", e.what());
	} catch (...) {
		std::snprintf(says, 200, "unknown exception");
	}
	return 1;
}

cv::Mat mat(const void *pix, int width, int height, int type) {
	return cv::Mat(height, width, type, const_cast<void *>(pix));
}

// fill copies into the caller's memory what OpenCV may have put elsewhere.
void fill(const cv::Mat &from, void *to, int width, int height, int type) {
	CV_Assert(from.rows == height && from.cols == width && from.type() == type);
	cv::Mat there = mat(to, width, height, type);
	if (from.data != there.data)
		from.copyTo(there);
}

template <class T> T *room(size_t n) {
	T *p = static_cast<T *>(std::calloc(n + 1, sizeof(T))); // never NULL for none
	if (!p)
		throw std::bad_alloc();
	return p;
}

} // namespace

int smooth(const float *from, float *to, int width, int height, double sigma, int shrink, char *says) {
	return guarded(says, [&] {
		cv::Mat src = mat(from, width, height, CV_32F), dst = mat(to, width, height, CV_32F), small;
		if (shrink < 2) {
			cv::GaussianBlur(src, dst, cv::Size(), sigma, sigma, cv::BORDER_REFLECT);
		} else {
			double f = 1.0 / shrink;
			cv::resize(src, small, cv::Size(), f, f, cv::INTER_AREA);
			cv::GaussianBlur(small, small, cv::Size(), sigma * f, sigma * f, cv::BORDER_REFLECT);
			cv::resize(small, dst, cv::Size(width, height), 0, 0, cv::INTER_LINEAR);
		}
		fill(dst, to, width, height, CV_32F);
	});
}

int distance(const unsigned char *mask, float *to, int width, int height, char *says) {
	return guarded(says, [&] {
		cv::Mat dst = mat(to, width, height, CV_32F);
		cv::distanceTransform(mat(mask, width, height, CV_8U), dst, cv::DIST_L2, cv::DIST_MASK_5, CV_32F);
		fill(dst, to, width, height, CV_32F);
	});
}

int blobs(const unsigned char *mask, int *labels, int width, int height, struct blob **all, int *count, char *says) {
	return guarded(says, [&] {
		cv::Mat dst = mat(labels, width, height, CV_32S), stats, centres;
		*count = cv::connectedComponentsWithStats(mat(mask, width, height, CV_8U), dst, stats, centres, 8, CV_32S);
		fill(dst, labels, width, height, CV_32S);
		CV_Assert(stats.rows == *count && centres.rows == *count);
		*all = room<blob>(*count);
		for (int i = 0; i < *count; i++) {
			const int *s = stats.ptr<int>(i);
			const double *c = centres.ptr<double>(i);
			(*all)[i] = {s[cv::CC_STAT_LEFT], s[cv::CC_STAT_TOP], s[cv::CC_STAT_WIDTH], s[cv::CC_STAT_HEIGHT], s[cv::CC_STAT_AREA], c[0], c[1]};
		}
	});
}

int outline(const unsigned char *mask, int width, int height, int **xy, int *count, char *says) {
	return guarded(says, [&] {
		std::vector<std::vector<cv::Point>> contours;
		cv::findContours(mat(mask, width, height, CV_8U), contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
		size_t best = 0;
		for (size_t i = 1; i < contours.size(); i++)
			if (contours[i].size() > contours[best].size())
				best = i;
		*count = contours.empty() ? 0 : static_cast<int>(contours[best].size());
		*xy = room<int>(2 * *count);
		for (int i = 0; i < *count; i++) {
			(*xy)[2 * i] = contours[best][i].x;
			(*xy)[2 * i + 1] = contours[best][i].y;
		}
	});
}
