#include "cvx.h"

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <streambuf>
#include <exception>
#include <iostream>
#include <limits>
#include <stdexcept>
#include <string>
#include <vector>

#include <opencv2/calib3d.hpp>
#include <opencv2/core.hpp>
#include <opencv2/core/utility.hpp>
#include <opencv2/core/utils/logger.hpp>
#include <opencv2/dnn.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

namespace {

// guard runs the work and turns whatever it throws into a message, so that nothing is thrown into Go's frames, where
// an exception would end the process.
template <typename Work>
char *guard(Work work) {
    try {
        work();
        return nullptr;
    } catch (const cv::Exception &e) {
        return strdup((e.func.empty() || e.func == "operator()" ? e.err : e.func + ": " + e.err).c_str());
    } catch (const std::exception &e) {
        return strdup(e.what());
    } catch (...) {
        return strdup("an exception of unknown kind");
    }
}

// in and out give the Mat behind a handle; a closed or never opened gocv.Mat holds none.
const cv::Mat &in(const void *p) {
    if (p == nullptr) throw std::invalid_argument("the input Mat is closed or was never opened");
    return *static_cast<const cv::Mat *>(p);
}

const cv::Mat &filled(const void *p) {
    const cv::Mat &m = in(p);
    if (m.empty()) throw std::invalid_argument("the input Mat is empty");
    return m;
}

cv::Mat &out(void *p) {
    if (p == nullptr) throw std::invalid_argument("the output Mat is closed or was never opened");
    return *static_cast<cv::Mat *>(p);
}

cv::Scalar scalar(const cvx_scalar &s) { return cv::Scalar(s.v[0], s.v[1], s.v[2], s.v[3]); }

// put copies the corners of a found board to the caller's room.
void put(const cv::Mat &corners, int cols, int rows, float *xy, int room, cvx_board *board) {
    const int n = static_cast<int>(corners.total());
    if (corners.type() != CV_32FC2 || !corners.isContinuous() || n != cols * rows)
        throw std::runtime_error("the chessboard finder gave a list of corners of an unexpected shape");
    if (n > room) throw std::length_error("the chessboard has more corners than there is room for");
    std::memcpy(xy, corners.ptr<float>(), sizeof(float) * 2 * n);
    board->cols = cols;
    board->rows = rows;
    board->count = n;
}

// over_white lays pixels with alpha (B, G, R, A) over a white ground.
template <typename T>
void over_white(const cv::Mat &src, cv::Mat &dst, bool premultiplied) {
    const uint64_t full = std::numeric_limits<T>::max();
    cv::Mat to(src.rows, src.cols, CV_MAKETYPE(src.depth(), 3));
    for (int y = 0; y < src.rows; y++) {
        const T *s = src.ptr<T>(y);
        T *d = to.ptr<T>(y);
        for (int x = 0; x < src.cols; x++, s += 4, d += 3) {
            const uint64_t ground = (full - s[3]) * full;
            for (int c = 0; c < 3; c++) {
                const uint64_t own = uint64_t(s[c]) * (premultiplied ? full : uint64_t(s[3]));
                d[c] = static_cast<T>(std::min((own + ground + full / 2) / full, full));
            }
        }
    }
    dst = to;
}

}  // namespace

char *cvx_throw(const char *message) {
    return guard([&] { CV_Error(cv::Error::StsError, message); });
}

void cvx_quiet(void) {
    if (std::getenv("OPENCV_LOG_LEVEL") != nullptr) return;
    struct Nowhere : std::streambuf {
        int overflow(int c) override { return traits_type::not_eof(c); }
    };
    static Nowhere nowhere;
    cv::utils::logging::setLogLevel(cv::utils::logging::LOG_LEVEL_SILENT);
    std::cerr.rdbuf(&nowhere);
}

char *cvx_decode(const void *bytes, int length, int flags, void *dst) {
    return guard([&] {
        const cv::Mat raw(1, length, CV_8UC1, const_cast<void *>(bytes));
        out(dst) = cv::imdecode(raw, flags);
    });
}

char *cvx_set_threads(int n) {
    return guard([&] { cv::setNumThreads(n); });
}

int cvx_threads(void) { return cv::getNumThreads(); }

const char *cvx_version(void) { return CV_VERSION; }

char *cvx_net_read(const void *bytes, size_t length, void **net) {
    return guard([&] {
        *net = new cv::dnn::Net(cv::dnn::readNetFromONNX(static_cast<const char *>(bytes), length));
    });
}

void cvx_net_free(void *net) { delete static_cast<cv::dnn::Net *>(net); }

char *cvx_net_run(void *net, const float *in, int planes, int rows, int cols, float **values, int *count) {
    return guard([&] {
        if (net == nullptr) throw std::invalid_argument("the network was never read");
        const int shape[] = {1, planes, rows, cols};
        const cv::Mat blob(4, shape, CV_32F, const_cast<float *>(in));
        cv::dnn::Net &n = *static_cast<cv::dnn::Net *>(net);
        n.setInput(blob);
        const cv::Mat got = n.forward();
        if (got.depth() != CV_32F || !got.isContinuous()) throw std::runtime_error("the network's output is of an unexpected kind");
        *values = static_cast<float *>(std::malloc(got.total() * sizeof(float)));
        if (*values == nullptr) throw std::bad_alloc();
        std::memcpy(*values, got.ptr<float>(), got.total() * sizeof(float));
        *count = static_cast<int>(got.total());
    });
}

char *cvx_cvt_color(const void *src, void *dst, int code) {
    return guard([&] { cv::cvtColor(filled(src), out(dst), code); });
}

char *cvx_convert_to(const void *src, void *dst, int type, double scale, double shift) {
    return guard([&] { filled(src).convertTo(out(dst), type, scale, shift); });
}

char *cvx_over_white(const void *src, void *dst, int premultiplied) {
    return guard([&] {
        const cv::Mat &s = filled(src);
        switch (s.type()) {
            case CV_8UC4: return over_white<uint8_t>(s, out(dst), premultiplied != 0);
            case CV_16UC4: return over_white<uint16_t>(s, out(dst), premultiplied != 0);
            default: throw std::invalid_argument("only 8 and 16 bit pictures of 4 channels have an alpha channel");
        }
    });
}

char *cvx_transpose(const void *src, void *dst) {
    return guard([&] { cv::transpose(filled(src), out(dst)); });
}

char *cvx_flip(const void *src, void *dst, int code) {
    return guard([&] { cv::flip(filled(src), out(dst), code); });
}

char *cvx_resize(const void *src, void *dst, int width, int height, int interpolation) {
    return guard([&] { cv::resize(filled(src), out(dst), cv::Size(width, height), 0, 0, interpolation); });
}

char *cvx_remap(const void *src, void *dst, const void *map1, const void *map2, int interpolation, int border,
                cvx_scalar fill) {
    return guard(
        [&] { cv::remap(filled(src), out(dst), filled(map1), in(map2), interpolation, border, scalar(fill)); });
}

char *cvx_warp_affine(const void *src, void *dst, const void *matrix, int width, int height, int flags, int border,
                      cvx_scalar fill) {
    return guard([&] {
        cv::warpAffine(filled(src), out(dst), filled(matrix), cv::Size(width, height), flags, border, scalar(fill));
    });
}

char *cvx_warp_perspective(const void *src, void *dst, const void *matrix, int width, int height, int flags,
                           int border, cvx_scalar fill) {
    return guard([&] {
        cv::warpPerspective(filled(src), out(dst), filled(matrix), cv::Size(width, height), flags, border,
                            scalar(fill));
    });
}

char *cvx_gaussian_blur(const void *src, void *dst, int kx, int ky, double sx, double sy, int border) {
    return guard([&] { cv::GaussianBlur(filled(src), out(dst), cv::Size(kx, ky), sx, sy, border); });
}

char *cvx_chessboard(const void *img, int cols, int rows, int flags, float *xy, int room, cvx_board *board) {
    return guard([&] {
        board->count = 0;
        cv::Mat corners;
        if (cv::findChessboardCorners(filled(img), cv::Size(cols, rows), corners, flags))
            put(corners, cols, rows, xy, room, board);
    });
}

char *cvx_chessboard_sb(const void *img, int cols, int rows, int flags, float *xy, int room, cvx_board *board) {
    return guard([&] {
        board->count = 0;
        cv::Mat corners, meta;
        if (cv::findChessboardCornersSB(filled(img), cv::Size(cols, rows), corners, flags, meta))
            put(corners, meta.cols, meta.rows, xy, room, board);
    });
}

char *cvx_corner_sub_pix(const void *img, float *xy, int count, int half, int zero, int rounds, double epsilon) {
    return guard([&] {
        const cv::Mat &m = filled(img);
        for (int i = 0; i < count; i++) {
            const float x = xy[2 * i], y = xy[2 * i + 1];  // written so that a NaN is refused as well
            if (!(x >= -0.5f && y >= -0.5f && x <= m.cols - 0.5f && y <= m.rows - 0.5f))
                throw std::out_of_range("corner " + std::to_string(i) + " lies outside the picture");
        }
        cv::Mat corners(count, 1, CV_32FC2, xy);
        const cv::TermCriteria stop(cv::TermCriteria::COUNT + cv::TermCriteria::EPS, rounds, epsilon);
        cv::cornerSubPix(m, corners, cv::Size(half, half), cv::Size(zero, zero), stop);
    });
}
